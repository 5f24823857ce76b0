"""The right clinic on the pages: chosen with its reasons, the others in order, and what happens when none will do."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from safety.models import Clinic, Incident
from safety.pages.phone.phone_words_around import clinic_words
from staff.models import SiteHoliday
from tests.factories import Team, give_doses
from tests.safety.pages.scenes import make_case, real_now, see_clinic, signed_in_as, text_of

pytestmark = pytest.mark.django_db
SAY = "“Possible rabies exposure. When can we come, and do you have vaccine and immunoglobulin?”"


@pytest.fixture
def clinics(team: Team) -> dict[str, Clinic]:
    """Round the clock all of them, so that only what a test changes tells them apart."""
    Clinic.objects.all().delete()
    asked = team.site.local_date(real_now())
    # Far is 27 minutes more than Near at the site's 30 km/h: within what immunoglobulin is worth.
    plan = {"Near": (-1.30, "no"), "Far": (-1.42, "yes"), "Nowhere": (None, "no")}
    return {
        name: Clinic.objects.create(
            site=team.site,
            name=name,
            phone=f"000 {number}",
            hours="24/7",
            vaccine="yes",
            immunoglobulin=immunoglobulin,
            latitude=latitude,
            longitude=None if latitude is None else 36.8,
            confirmed_on=asked,
        )
        for number, (name, (latitude, immunoglobulin)) in enumerate(plan.items())
    }


def case_at(team: Team, **place: Any) -> Incident:
    incident = make_case(team)
    Incident.objects.filter(pk=incident.pk).update(**{"latitude": -1.29, "longitude": 36.8} | place)
    incident.refresh_from_db()
    return incident


def seen(team: Team, incident: Incident, user: str = "liaison", route: str = "case") -> str:
    client = signed_in_as(getattr(team, user))
    return text_of(client.get(reverse(route, args=[incident.reference])))


def first_of(text: str, *names: str) -> str:
    advice = text[text.index("Go to:") :]
    return min(names, key=lambda name: advice.index(name))


def test_the_nearest_is_chosen_for_somebody_immunised_with_telephone_map_and_words(
    team: Team, clinics: dict[str, Clinic]
) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    incident = case_at(team)
    text = seen(team, incident)
    assert first_of(text, "Near", "Far", "Nowhere") == "Near"
    assert "1 km in a straight line" in text and "Open round the clock" in text
    # Somebody immunised needs no immunoglobulin, but one sentence for all is one less to get wrong.
    assert SAY in text and SAY in clinic_words()["say_plain"]
    html = signed_in_as(team.liaison).get(reverse("case", args=[incident.reference])).content.decode()
    assert 'href="tel:0000"' in html and 'href="geo:-1.30000,36.80000"' in html


def test_where_immunoglobulin_may_be_asked_for_the_one_that_has_it_goes_first(
    team: Team, clinics: dict[str, Clinic]
) -> None:
    text = seen(team, case_at(team))
    assert first_of(text, "Near", "Far", "Nowhere") == "Far"
    assert "known to have immunoglobulin" in text and "min farther" in text and SAY in text
    Clinic.objects.filter(name="Far").update(latitude=-1.60)
    text = seen(team, case_at(team))
    assert first_of(text, "Near", "Far", "Nowhere") == "Near"
    assert "Get the vaccine here now" in text and "Far is known to have it" in text
    Clinic.objects.update(immunoglobulin="no")
    text = seen(team, case_at(team))
    assert first_of(text, "Near", "Far", "Nowhere") == "Near"
    assert "no clinic of the list is known to have it" in text


def test_without_a_place_the_distance_is_not_known_and_it_says_so(
    team: Team, clinics: dict[str, Clinic]
) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    text = seen(team, case_at(team, latitude=None, longitude=None))
    assert first_of(text, "Near", "Far", "Nowhere") == "Far"
    assert "distance not known" in text and "no place was given" in text


@pytest.mark.parametrize(
    "change", [{"hours": ""}, {"hours": "8-17 or so"}, {"hours": "24/7 off"}, {"vaccine": "no"}]
)
def test_when_none_qualifies_it_says_so_with_emergency_number_and_authority(
    team: Team, clinics: dict[str, Clinic], change: dict[str, str]
) -> None:
    Clinic.objects.update(**change)
    text = seen(team, case_at(team))
    assert "No clinic of the list is known to be open" in text and "Go to:" not in text
    advice = text[text.index("No clinic of the list") :]
    assert "Health office of the test" in advice and "000" in advice and "Near" in advice


def test_an_empty_list_sends_people_to_the_emergency_number(team: Team) -> None:
    Clinic.objects.all().delete()
    assert "list holds no clinic: call the emergency number" in seen(team, case_at(team))


def test_old_knowledge_is_said_to_be_old(team: Team, clinics: dict[str, Clinic]) -> None:
    today = team.site.local_date(real_now())
    for days, old in ((7, False), (8, True)):
        Clinic.objects.update(confirmed_on=today - timedelta(days=days))
        assert ("too long ago to rely on" in seen(team, case_at(team))) is old


def test_a_holiday_of_the_site_closes_what_its_hours_close(team: Team, clinics: dict[str, Clinic]) -> None:
    Clinic.objects.update(hours="24/7; PH off")
    assert "Go to:" in seen(team, case_at(team))
    today = team.site.local_date(real_now())
    for days in range(3):
        SiteHoliday.objects.create(site=team.site, date=today + timedelta(days=days), name="Test Day")
    text = seen(team, case_at(team))
    assert "Go to:" not in text and "closed when you get there; opens" in text.lower()


def test_the_crew_lead_who_reported_is_told_where_to_go_but_not_whether_the_person_is_immunised(
    team: Team, clinics: dict[str, Clinic]
) -> None:
    immunised = case_at(team)
    Incident.objects.filter(pk=immunised.pk).update(reported_by=team.lead)
    before = seen(team, immunised, "lead", "report-sent")
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    after = seen(team, immunised, "lead", "report-sent")
    assert first_of(before, "Near", "Far") == first_of(after, "Near", "Far") == "Far"


def test_the_referral_starts_with_the_right_clinic_and_lists_the_others_in_order(
    team: Team, clinics: dict[str, Clinic]
) -> None:
    incident = case_at(team)
    page = signed_in_as(team.liaison).get(reverse("case-referral", args=[incident.reference]))
    field = page.context["form"]["clinic"]
    assert field.initial == clinics["Far"]
    assert [clinic.name for clinic in field.field.queryset] == ["Far", "Near", "Nowhere"]
    assert "The right clinic now" in text_of(page)


def test_after_the_visit_nobody_is_sent_anywhere_any_more(team: Team, clinics: dict[str, Clinic]) -> None:
    team.clinic = clinics["Near"]
    incident = case_at(team)
    see_clinic(team, incident)
    assert "The right clinic now" not in seen(team, incident)


def test_the_choice_takes_the_same_queries_however_long_the_list_is(
    team: Team, clinics: dict[str, Clinic], django_assert_max_num_queries: Any
) -> None:
    incident, client = case_at(team), signed_in_as(team.liaison)
    url = reverse("case", args=[incident.reference])
    with django_assert_max_num_queries(60) as few:
        client.get(url)
    for number in range(12):
        Clinic.objects.create(site=team.site, name=f"More {number}", phone="000", hours="Mo-Su 08:00-17:00")
    with django_assert_max_num_queries(len(few)):
        assert "More 11" in text_of(client.get(url))
