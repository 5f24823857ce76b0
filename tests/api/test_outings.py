"""Outings and rosters through the door."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from staff.models import Assignment, Outing
from staff.services.outing.roster import roster_assign
from tests.api.conftest import Clients
from tests.factories import Team, give_doses, make_outing

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/outings/"
PLAN = {
    "date": "2026-03-05",
    "area": "Lower market",
    "method": "fixed-post",
    "dogs_expected": 120,
    "crews": 2,
}


def test_an_officer_plans_an_outing_with_empty_crews(team: Team, keyed: Clients) -> None:
    answer = keyed(team.officer).post(ADDRESS, PLAN, format="json")
    assert answer.status_code == 201
    assert (answer.json()["site"], answer.json()["date"]) == ("hillside", "2026-03-05")
    assert [crew["assignments"] for crew in answer.json()["crews"]] == [[], []]
    assert keyed(team.officer).get(ADDRESS).json() == [answer.json()]


FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"date": "2026-03-01"}, "date"),
    ({"area": ""}, "area"),
    ({"area": "x" * 121}, "area"),
    ({"area": "a\0b"}, "area"),
    ({"area": 7}, "area"),
    ({"method": "by boat"}, "method"),
    ({"dogs_expected": -1}, "dogs_expected"),
    ({"dogs_expected": 1.5}, "dogs_expected"),
    ({"crews": 13}, "crews"),
    ({"site": "harbour"}, "site"),
    ({"zone": "Africa/Nairobi"}, "zone"),
]


@pytest.mark.parametrize(("change", "field"), FAULTS)
def test_an_outing_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, change: dict[str, Any], field: str
) -> None:
    answer = keyed(team.officer).post(ADDRESS, PLAN | change, format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])
    assert not Outing.objects.exists()


def test_a_cleared_person_is_put_on_the_crew(team: Team, keyed: Clients, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    outing, crew = make_outing(team.site, team.officer, now)
    asked = {"person": team.person.pk, "crew": crew.pk, "role": "catcher"}
    answer = keyed(team.officer).post(f"{ADDRESS}{outing.pk}/assignments/", asked, format="json")
    assert answer.status_code == 201
    assert (answer.json()["person"], answer.json()["clear_from"]) == (team.person.pk, "2026-02-28")


def test_a_person_who_is_not_clear_answers_409_with_the_reasons(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 20, 13)
    outing, _crew = make_outing(team.site, team.officer, now)
    asked = {"person": team.person.pk, "role": "catcher"}
    answer = keyed(team.officer).post(f"{ADDRESS}{outing.pk}/assignments/", asked, format="json")
    assert (answer.status_code, answer.json()["code"]) == (409, "not-cleared")
    assert set(answer.json()) == {"code", "message", "fields"}
    assert "2 of 3 doses count" in answer.json()["fields"]["person"]
    assert not Assignment.objects.exists()


def test_the_same_person_twice_answers_409(team: Team, keyed: Clients, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    outing, _crew = make_outing(team.site, team.officer, now)
    client, asked = keyed(team.officer), {"person": team.person.pk, "role": "catcher"}
    client.post(f"{ADDRESS}{outing.pk}/assignments/", asked, format="json")
    again = client.post(f"{ADDRESS}{outing.pk}/assignments/", asked, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "already-assigned")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"person": 10**30}, "person"),
        ({"person": 999}, "person"),
        ({"crew": 999}, "crew"),
        ({"role": "cook"}, "role"),
    ],
)
def test_an_assignment_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, now: datetime, change: dict[str, Any], field: str
) -> None:
    outing, crew = make_outing(team.site, team.officer, now)
    asked = {"person": team.person.pk, "crew": crew.pk, "role": "catcher"} | change
    answer = keyed(team.officer).post(f"{ADDRESS}{outing.pk}/assignments/", asked, format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])


def test_a_member_lists_only_the_outings_they_are_on(team: Team, keyed: Clients, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    mine, crew = make_outing(team.site, team.officer, now)
    make_outing(team.site, team.officer, now, days_ahead=4)
    roster_assign(actor=team.officer, outing=mine, crew=crew, person=team.person, role="catcher", now=now)
    assert [row["id"] for row in keyed(team.member).get(ADDRESS).json()] == [mine.pk]
    assert len(keyed(team.lead).get(ADDRESS).json()) == 2
    assert keyed(team.stranger).get(ADDRESS).json() == []


def test_dates_narrow_the_list(team: Team, keyed: Clients, now: datetime) -> None:
    for days in (1, 2, 3):
        make_outing(team.site, team.officer, now, days_ahead=days)
    rows = keyed(team.officer).get(ADDRESS, {"since": "2026-03-04", "until": "2026-03-04"}).json()
    assert [row["date"] for row in rows] == ["2026-03-04"]


def test_a_stranger_officer_cannot_put_our_people_on_our_outing(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    outing, _crew = make_outing(team.site, team.officer, now)
    asked = {"person": team.person.pk, "role": "catcher"}
    answer = keyed(team.stranger).post(f"{ADDRESS}{outing.pk}/assignments/", asked, format="json")
    assert answer.status_code == 404
    assert not Assignment.objects.exists()


def test_the_number_of_queries_does_not_grow_with_the_outings(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    client, counts = keyed(team.officer), []
    for first in (1, 4):
        for days in range(first, first * 2 + 1):
            outing, crew = make_outing(team.site, team.officer, now, days_ahead=days)
            roster_assign(
                actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
            )
        with CaptureQueriesContext(connection) as seen:
            assert client.get(ADDRESS).json()
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_details_are_planned_and_changed_through_the_door(team: Team, keyed: Clients) -> None:
    client = keyed(team.officer)
    told = {"start_time": "07:30", "meeting_latitude": -1.5, "meeting_longitude": 36, "note": "Nets"}
    asked = {"date": "2026-03-05", "area": "Market", "details": told}
    made = client.post(ADDRESS, asked, format="json").json()
    empty = {"meeting_place": "", "day_phone": ""}
    assert made["details"] == told | empty
    url = f"{ADDRESS}{made['id']}/details/"
    changed = client.post(url, {"start_time": None, "day_phone": " +000 1 "}, format="json")
    assert changed.json() == told | empty | {"start_time": None, "day_phone": "+000 1"}
    assert client.get(ADDRESS).json()[0]["details"] == changed.json()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("start_time", "7:30"),
        ("start_time", "25:00"),
        ("meeting_latitude", 91),
        ("meeting_latitude", 10**400),
        ("meeting_latitude", "north"),
        ("note", "x" * 1001),
        ("meeting_longitude", 5),
        ("color", "red"),
    ],
)
def test_details_that_cant_be_are_refused_by_name(
    team: Team, keyed: Clients, now: datetime, field: str, value: object
) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    answer = keyed(team.officer).post(f"{ADDRESS}{outing.pk}/details/", {field: value}, format="json")
    assert answer.status_code == 400
    assert set(answer.json()["fields"]) <= {field, "meeting_latitude"}
