"""Outings and their rosters: only cleared people, and everybody else with the reason."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.test import Client
from django.urls import reverse

from staff.models import Crew, Outing, Person
from staff.services.record.people import person_update
from tests.factories import Team, make_outing, make_person
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as


def _outing(team: Team, days_ahead: int = 3) -> tuple[Client, Outing, Crew]:
    outing, crew = make_outing(team.site, team.officer, real_now(), days_ahead)
    return signed_in_as(team.officer), outing, crew


def _assign(officer: Client, outing: Outing, crew: Crew, person: Person, role: str = "catcher") -> Any:
    data = {"crew": crew.pk, "person": person.pk, "role": role}
    return officer.post(reverse("outing-assign", args=[outing.pk]), data)


def test_planning_an_outing_makes_its_crews_and_opens_it(team: Team) -> None:
    data = {
        "site": team.site.pk,
        "date": team.site.local_date(real_now()) + timedelta(days=5),
        "area": "North",
        "method": "fixed-post",
        "dogs_expected": 80,
        "crews": 2,
    }
    response = signed_in_as(team.officer).post(reverse("outing-add"), data)
    outing = Outing.objects.get(area="North")
    assert response["Location"] == reverse("outing", args=[outing.pk])
    assert outing.crews.count() == 2


def test_an_outing_without_a_crew_is_refused_at_the_field(team: Team) -> None:
    data = {"site": team.site.pk, "date": "2031-01-01", "area": "North", "method": "fixed-post", "crews": 0}
    response = signed_in_as(team.officer).post(reverse("outing-add"), data)
    assert response.status_code == 400
    assert 'href="#id_crews"' in response.content.decode()
    assert not Outing.objects.exists()


def test_the_list_says_crewed_only_once_every_needed_crew_role_is_filled(team: Team) -> None:
    officer, outing, crew = _outing(team)
    for number, role in (("20", "catcher"), ("21", "vaccinator"), ("22", "recorder")):
        _assign(officer, outing, crew, clear_person(team, number, f"Clear {role}"), role)
        page = officer.get(reverse("outings")).content.decode()
        assert ("crewed" in page) == (role == "recorder"), role
        assert ("crew roles still needed" in page) == (role != "recorder"), role


def test_only_cleared_people_are_offered_and_the_others_stand_beneath_with_the_reason(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, _crew = _outing(team)
    response = officer.get(reverse("outing", args=[outing.pk]), {"role": "vaccinator"})
    assert response.context["offered"] == [clear]
    assert [row.person for row, _ahead in response.context["refused"]] == [team.person]
    choices = str(response.context["assign_form"]["person"])
    assert "Clear Person" in choices
    assert "Test Member" not in choices
    assert "No dose on record" in response.content.decode()


def test_people_without_the_crew_role_are_not_listed_for_it(team: Team) -> None:
    clear = clear_person(team)
    person_update(actor=team.officer, person=clear, now=real_now(), crew_roles=["driver"])
    officer, outing, _crew = _outing(team)
    assert officer.get(reverse("outing", args=[outing.pk])).context["offered"] == []
    assert officer.get(reverse("outing", args=[outing.pk]), {"role": "driver"}).context["offered"] == [clear]


def test_a_cleared_person_is_put_on_and_no_longer_offered(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, crew = _outing(team)
    response = _assign(officer, outing, crew, clear)
    assert response.status_code == 302
    assert outing.assignments.get().person == clear
    again = officer.get(reverse("outing", args=[outing.pk]))
    assert again.context["offered"] == []
    assert "Clear Person is on the roster." in again.content.decode()


def test_an_uncleared_person_is_refused_with_the_reasons_however_the_request_came(team: Team) -> None:
    officer, outing, crew = _outing(team)
    response = _assign(officer, outing, crew, team.person)
    assert response.status_code == 409
    html = response.content.decode()
    assert "error-summary" in html
    assert "No dose on record; 3 are needed before field work." in html
    assert not outing.assignments.exists()


def test_somebody_of_another_site_is_refused(team: Team) -> None:
    foreign = make_person(team.other_site, team.stranger, real_now(), number="9", name="Foreign")
    officer, outing, crew = _outing(team)
    response = _assign(officer, outing, crew, foreign)
    assert response.status_code == 400
    assert "Choose a person of this site." in response.content.decode()
    assert "Foreign" not in response.content.decode()


def test_the_same_person_twice_is_refused(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, crew = _outing(team)
    _assign(officer, outing, crew, clear)
    response = _assign(officer, outing, crew, clear, role="driver")
    assert response.status_code == 409
    assert "is on this outing already" in response.content.decode()


def test_a_crew_says_which_roles_it_still_needs(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, crew = _outing(team)
    _assign(officer, outing, crew, clear)
    (view,) = officer.get(reverse("outing", args=[outing.pk])).context["crews"]
    assert view.missing == ("vaccinator", "recorder")


def test_taking_off_asks_why_and_leaves_a_trace(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, crew = _outing(team)
    _assign(officer, outing, crew, clear)
    url = reverse("outing-withdraw", args=[outing.pk, outing.assignments.get().pk])
    assert officer.post(url, {"reason": ""}).status_code == 400
    assert officer.post(url, {"reason": "family"}).status_code == 302
    assert not outing.assignments.exists()
    assert "family" in officer.get(reverse("outing", args=[outing.pk])).content.decode()
    assert officer.post(url, {"reason": "family"}).status_code == 404


def test_lead_and_member_read_the_roster_and_no_reason(team: Team) -> None:
    clear = clear_person(team)
    clear.user = team.member
    team.person.user = None
    team.person.save()
    clear.save()
    officer, outing, crew = _outing(team)
    _assign(officer, outing, crew, clear)
    other = clear_person(team, number="21", name="Second Person")
    _assign(officer, outing, crew, other, role="driver")
    taken = outing.assignments.get(person=other)
    officer.post(reverse("outing-withdraw", args=[outing.pk, taken.pk]), {"reason": "secret matter"})
    for user in (team.lead, team.member):
        html = signed_in_as(user).get(reverse("outing", args=[outing.pk])).content.decode()
        assert "Clear Person" in html
        assert "secret matter" not in html
        assert "No dose on record" not in html
        assert "Take off" not in html


def test_moving_an_outing_says_how_many_had_to_leave_its_roster(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, crew = _outing(team)
    _assign(officer, outing, crew, clear)
    person_update(
        actor=team.officer, person=clear, now=real_now(), active_until=outing.date + timedelta(days=1)
    )
    later = outing.date + timedelta(days=10)
    response = officer.post(reverse("outing-move", args=[outing.pk]), {"date": later}, follow=True)
    assert "1 person can&#x27;t go on the new date" in response.content.decode()
    assert not outing.assignments.exists()


def test_moving_into_the_past_is_refused(team: Team) -> None:
    officer, outing, _crew = _outing(team)
    response = officer.post(reverse("outing-move", args=[outing.pk]), {"date": "2020-01-01"})
    assert response.status_code == 400
    assert Outing.objects.get(pk=outing.pk).date == outing.date


def test_a_cancelled_outing_shows_why_and_offers_nobody(team: Team) -> None:
    clear = clear_person(team)
    officer, outing, crew = _outing(team)
    url = reverse("outing-cancel", args=[outing.pk])
    assert officer.post(url, {"reason": ""}).status_code == 400
    assert officer.post(url, {"reason": "storm"}).status_code == 302
    html = officer.get(reverse("outing", args=[outing.pk])).content.decode()
    assert "storm" in html
    assert "Put people on" not in html
    assert _assign(officer, outing, crew, clear).status_code == 409


def test_the_list_parts_coming_from_past_by_the_sites_own_date(team: Team) -> None:
    officer, today_outing, _crew = _outing(team, days_ahead=0)
    Outing.objects.create(
        site=team.site,
        date=team.site.local_date(real_now()) - timedelta(days=1),
        area="Gone",
        created_by=team.officer,
        created_at=real_now(),
    )
    shown = officer.get(reverse("outings")).context["shown"]
    assert [one.pk for one in shown.coming] == [today_outing.pk]
    assert [one.area for one in shown.past] == ["Gone"]


def test_the_list_asks_the_database_as_often_for_many_outings_as_for_few(
    team: Team, django_assert_max_num_queries: Any
) -> None:
    for days in range(25):
        make_outing(team.site, team.officer, real_now(), days)
    officer = signed_in_as(team.officer)
    with django_assert_max_num_queries(20):
        response = officer.get(reverse("outings"))
    assert len(response.context["shown"].coming) == 25


def test_a_member_finds_the_coming_outings_on_the_own_page(team: Team) -> None:
    clear = clear_person(team)
    Person.objects.filter(pk=team.person.pk).update(user=None)
    Person.objects.filter(pk=clear.pk).update(user=team.member)
    officer, outing, crew = _outing(team)
    _assign(officer, outing, crew, clear)
    _outing(team, days_ahead=4)
    response = signed_in_as(team.member).get(reverse("me"))
    assert [(one.pk, place.role) for one, place in response.context["outings"]] == [(outing.pk, "catcher")]
