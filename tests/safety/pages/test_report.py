"""Reporting a bite from the page, with and without script, once and twice, signed in and not."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from safety.models import Incident, WashSpell
from staff.models import Hold
from tests.factories import Team, make_person, make_user
from tests.safety.pages.scenes import answers, make_case, real_now, signed_in_as, text_of

pytestmark = pytest.mark.django_db
REPORT = "/report/"


def send(user: Any, data: dict[str, Any]) -> Any:
    return signed_in_as(user).post(REPORT, data)


def test_washing_stands_above_everything_with_the_sites_minutes(team: Team) -> None:
    team.site.rules.wash_minutes = 17
    team.site.rules.save()
    html = signed_in_as(team.member).get(REPORT).content.decode()
    main = html[html.index("<main") :]
    assert main.index("Wash now: soap and running water, 17 minutes") < main.index("<form")
    assert "tel:000" in main and "never wait for it" in main


def test_without_script_no_button_is_shown_that_needs_one(team: Team) -> None:
    html = signed_in_as(team.member).get(REPORT).content.decode()
    clock = html[html.index("data-wash-report") :]
    assert re.search(r"^[^>]*\bhidden>", clock)
    assert "onclick" not in html and "style=" not in html


def test_a_member_reports_for_themselves_and_lands_on_the_case(team: Team) -> None:
    response = send(team.member, answers(team, washed_minutes="4", soap="yes"))
    incident = Incident.objects.get()
    assert response["Location"] == reverse("case", args=[incident.reference])
    assert incident.person == team.person and incident.wounds.get().contact == "bitten"
    spell = incident.wash_spells.get()
    assert spell.stopped_at - spell.started_at == timedelta(minutes=4) and spell.soap == "yes"
    assert Hold.objects.filter(person=team.person, released_at__isnull=True).exists()


def test_sending_twice_makes_one_row_and_says_so(team: Team) -> None:
    data, client = answers(team), signed_in_as(team.member)
    first = client.post(REPORT, data)
    second = client.post(REPORT, data, follow=True)
    assert Incident.objects.count() == 1
    assert second.redirect_chain[0][0] == first["Location"]
    assert "had arrived already" in text_of(second)


def test_a_changed_report_under_the_same_key_is_explained_and_can_be_sent_as_another(team: Team) -> None:
    data, client = answers(team), signed_in_as(team.member)
    client.post(REPORT, data)
    refused = client.post(REPORT, data | {"bled": "yes"})
    assert refused.status_code == 422
    assert Incident.objects.get().reference in text_of(refused)
    assert "send it again" in text_of(refused)
    key = refused.context["form"]["key"].value()
    assert key != data["key"]
    client.post(REPORT, data | {"bled": "yes", "key": key})
    assert Incident.objects.count() == 2


@pytest.mark.parametrize(
    ("minutes", "words"), [("", "not recorded"), ("0", "not washed"), ("14", "too short")]
)
def test_not_recorded_not_washed_and_too_short_are_three_answers(
    team: Team, minutes: str, words: str
) -> None:
    hour_ago = real_now().astimezone(team.site.zone) - timedelta(hours=1)
    when = {"day": hour_ago.date().isoformat(), "clock": hour_ago.strftime("%H:%M")}
    page = signed_in_as(team.member).post(REPORT, answers(team, washed_minutes=minutes, **when), follow=True)
    assert page.context["wash"].state.word == words
    assert words in text_of(page)


def test_a_wash_clock_still_running_goes_on_after_the_report(team: Team) -> None:
    started = real_now() - timedelta(minutes=2)
    page = signed_in_as(team.member).post(
        REPORT, answers(team, wash_started_at=started.isoformat()), follow=True
    )
    assert WashSpell.objects.get().stopped_at is None
    assert "The clock runs since" in text_of(page) and "Stop the wash clock" in text_of(page)
    assert 120 <= page.context["wash"].washing.seconds < 240


def test_the_clock_and_typed_minutes_together_are_refused_because_they_would_count_twice(team: Team) -> None:
    started = (real_now() - timedelta(minutes=2)).isoformat()
    response = send(team.member, answers(team, wash_started_at=started, washed_minutes="5"))
    assert response.status_code == 400 and not Incident.objects.exists()
    assert "leave the minutes empty" in text_of(response)


@pytest.mark.parametrize("contact", ["none", "touched", "licked-intact-skin"])
def test_a_bite_that_was_no_contact_is_refused_since_it_would_hide_an_exposure(
    team: Team, contact: str
) -> None:
    response = send(team.member, answers(team, contact=contact))
    assert response.status_code == 400 and not Incident.objects.exists()
    assert "fit what happened" in text_of(response)


def test_a_report_without_what_happened_keeps_every_answer_and_names_the_question(team: Team) -> None:
    data = answers(team, narrative="the net tore")
    del data["kind"]
    response = send(team.member, data)
    assert response.status_code == 400
    html = response.content.decode()
    assert html.index("error-summary") < html.index("<h1")
    assert 'href="#id_kind_0"' in html and "the net tore" in html


def test_a_time_in_the_future_is_refused_at_the_report(team: Team) -> None:
    tomorrow = real_now().astimezone(team.site.zone).date() + timedelta(days=1)
    response = send(team.member, answers(team, day=tomorrow.isoformat()))
    assert response.status_code == 400 and not Incident.objects.exists()
    assert "future" in text_of(response)


def test_a_time_the_clocks_left_out_is_refused(team: Team) -> None:
    # Santiago moved from 00:00 to 01:00 on 2025-09-07 (IANA time zone database).
    team.site.time_zone = "America/Santiago"
    team.site.save()
    response = send(team.member, answers(team, day="2025-09-07", clock="00:30"))
    assert response.status_code == 400
    assert "left this time out" in text_of(response)


def test_a_near_miss_without_contact_holds_nobody(team: Team) -> None:
    send(team.member, answers(team, kind="near-miss", broke_skin="unknown", body_site="unknown"))
    assert Incident.objects.get().wounds.count() == 0
    assert not Hold.objects.exists()


def test_something_else_without_an_answer_counts_as_exposed(team: Team) -> None:
    send(team.member, answers(team, kind="other", broke_skin="unknown"))
    assert Hold.objects.filter(person=team.person).exists()


def test_a_lead_reports_for_a_crew_member_and_never_sees_the_case(team: Team) -> None:
    client = signed_in_as(team.lead)
    response = client.post(REPORT, answers(team, person=team.person.pk))
    reference = Incident.objects.get().reference
    assert response["Location"] == reverse("report-sent", args=[reference])
    page = client.get(response["Location"])
    assert page.status_code == 200 and "Test Clinic" in text_of(page)
    assert team.person.name not in text_of(page)
    assert client.get(reverse("case", args=[reference])).status_code in {403, 404}
    client.post(reverse("wash-start", args=[reference]))
    assert WashSpell.objects.get().stopped_at is None


def test_nobody_reports_for_people_of_another_site(team: Team) -> None:
    there = make_person(team.other_site, team.stranger, real_now(), number="9")
    for user in (team.lead, team.officer):
        response = send(user, answers(team, person=there.pk))
        assert response.status_code == 400
    assert not Incident.objects.exists()


def test_a_member_cannot_name_another_person(team: Team) -> None:
    other = make_person(team.site, team.officer, real_now(), number="8")
    send(team.member, answers(team, person=other.pk))
    assert Incident.objects.get().person == team.person


def test_an_expired_session_loses_nothing_and_signs_in_on_the_same_page(team: Team) -> None:
    team.member.set_password("a long enough pass phrase")
    team.member.save()
    client, data = Client(), answers(team, narrative="behind the market")
    page = client.post(REPORT, data)
    assert page.status_code == 401 and not Incident.objects.exists()
    html = page.content.decode()
    assert "behind the market" in html and data["key"] in html
    assert html.index("error-summary") < html.index("<h1")
    wrong = client.post(REPORT, data | {"username": "member", "password": "guess"})
    assert wrong.status_code == 401 and not Incident.objects.exists()
    done = client.post(REPORT, data | {"username": "member", "password": "a long enough pass phrase"})
    assert Incident.objects.get().narrative == "behind the market"
    assert done["Location"] == reverse("case", args=[Incident.objects.get().reference])


def test_without_an_account_the_wash_clock_and_the_emergency_number_are_there(team: Team) -> None:
    page = Client().get(REPORT)
    assert page.status_code == 200
    assert "Wash now" in text_of(page) and "tel:000" in page.content.decode()
    assert team.person.name not in text_of(page)


def test_an_account_without_a_team_is_told_why_it_cannot_report(team: Team) -> None:
    nobody = make_user("nobody")
    response = send(nobody, answers(team, key=str(uuid.uuid4())))
    assert response.status_code == 400 and not Incident.objects.exists()


def test_a_phone_put_away_finds_the_way_back_to_the_case(team: Team) -> None:
    incident = make_case(team)
    client, way = signed_in_as(team.member), f'href="{reverse("case", args=[incident.reference])}"'
    for path in ("/me/", "/outings/", REPORT):
        assert way in client.get(path).content.decode(), path
    assert "only for another incident" in text_of(client.get(REPORT))
    Incident.objects.update(closed_at=real_now(), close_reason="healed")
    assert "Reported already" not in text_of(client.get("/me/"))


def test_a_lead_finds_the_report_of_today_again_and_nobody_elses(team: Team) -> None:
    lead = signed_in_as(team.lead)
    make_case(team)
    assert "Reported already" not in text_of(lead.get("/outings/"))
    data = answers(team, person=team.person.pk)
    sent = lead.post(REPORT, data)["Location"]
    assert f'href="{sent}"' in lead.get("/outings/").content.decode()
    Incident.objects.filter(reported_by=team.lead).update(reported_at=real_now() - timedelta(hours=25))
    assert "Reported already" not in text_of(lead.get("/outings/"))


def test_the_report_has_no_button_that_would_begin_it_anew(team: Team) -> None:
    client = signed_in_as(team.member)
    assert f'href="{REPORT}"' in client.get("/me/").content.decode()
    assert f'href="{REPORT}"' not in client.get(REPORT).content.decode()
