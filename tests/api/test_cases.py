"""The steps of a case through the door, from the tap to the last dose."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from safety.models import Clinic, Course, Incident, Referral, Visit
from safety.services.course.plan import course_plan
from staff.models import Dose, Hold
from tests.api.conftest import Clients
from tests.factories import Team, also_member

pytestmark = pytest.mark.django_db


def case(incident: Incident, step: str) -> str:
    return f"/api/v1/incidents/{incident.pk}/{step}/"


def visit(team: Team, **change: Any) -> dict[str, Any]:
    return {"clinic": team.clinic.pk, "visited_on": "2026-03-02", "decision": "course"} | change


def test_fifteen_minutes_with_soap_reach_the_target(team: Team, keyed: Clients, bitten: Incident) -> None:
    """Fifteen minutes with soap and running water: practice, and WHO 2018 read in a secondary copy."""
    spell = {"started_at": "2026-03-02T05:32:00Z", "stopped_at": "2026-03-02T05:47:00Z", "soap": "yes"}
    answer = keyed(team.member).post(case(bitten, "washing"), spell, format="json")
    assert answer.status_code == 201
    assert answer.json() == {
        "incident": bitten.pk,
        "state": "reached",
        "seconds": 900,
        "short_seconds": 0,
        "target_seconds": 900,
        "soap": "yes",
    }


def test_ten_minutes_fall_five_short(team: Team, keyed: Clients, bitten: Incident) -> None:
    spell = {"started_at": "2026-03-02T05:32:00Z", "stopped_at": "2026-03-02T05:42:00Z", "soap": "yes"}
    answer = keyed(team.member).post(case(bitten, "washing"), spell, format="json").json()
    assert (answer["state"], answer["short_seconds"]) == ("short", 300)


def test_the_clock_is_started_and_stopped_once_each(team: Team, keyed: Clients, bitten: Incident) -> None:
    client, address = keyed(team.lead), case(bitten, "washing")
    started = client.post(address, {"clock": "start", "started_at": "2026-03-02T05:40:00Z"}, format="json")
    assert (started.status_code, started.json()["state"]) == (201, "running")
    again = client.post(address, {"clock": "start"}, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "wash-running")
    stopped = client.post(address, {"clock": "stop", "soap": "yes"}, format="json")
    assert (stopped.json()["state"], stopped.json()["seconds"]) == ("reached", 20 * 60)
    after = client.post(address, {"clock": "stop"}, format="json")
    assert (after.status_code, after.json()["code"]) == (409, "wash-not-running")


WASH_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({}, "clock"),
    ({"started_at": "2026-03-02T05:40:00Z"}, "clock"),
    ({"clock": "start", "soap": "yes"}, "clock"),
    ({"clock": "stop", "stopped_at": "2026-03-02T05:40:00Z"}, "clock"),
    ({"clock": "pause"}, "clock"),
    ({"clock": "start", "started_at": "1999-03-02T05:40:00Z"}, "started_at"),
    ({"clock": "start", "started_at": "2026-03-02T07:00:00Z"}, "started_at"),
    ({"started_at": "2026-03-02T05:40:00Z", "stopped_at": "2026-03-02T05:40:00Z"}, "stopped_at"),
    ({"started_at": "2026-03-01T05:40:00Z", "stopped_at": "2026-03-02T05:40:00Z"}, "stopped_at"),
    ({"minutes": 15}, "minutes"),
]


@pytest.mark.parametrize(("said", "field"), WASH_FAULTS)
def test_washing_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, bitten: Incident, said: dict[str, Any], field: str
) -> None:
    answer = keyed(team.member).post(case(bitten, "washing"), said, format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])
    assert not bitten.wash_spells.exists()


def test_a_case_goes_from_referral_to_the_first_dose(
    team: Team, keyed: Clients, bitten: Incident, now: datetime
) -> None:
    client = keyed(team.liaison)
    referral = client.post(case(bitten, "referral"), {"clinic": team.clinic.pk}, format="json")
    seen = client.post(case(bitten, "visit"), visit(team, immunoglobulin="yes"), format="json")
    course = client.post(
        case(bitten, "course"), {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2026-03-02"}, format="json"
    )
    assert [answer.status_code for answer in (referral, seen, course)] == [201] * 3
    assert course.json()["version"] == 1 and course.json()["ended_on"] is None
    dose = client.post(
        f"/api/v1/courses/{course.json()['id']}/doses/",
        {"given_on": "2026-03-02", "batch": "B-17"},
        format="json",
    )
    assert dose.status_code == 201 and dose.json()["route"] == "IM"
    planned = course_plan(course_id=course.json()["id"], now=now).planned_doses.all()
    # WHO 2010 and ACIP 2008: five doses on days 0, 3, 7, 14 and 28.
    assert [row.due_on.isoformat() for row in planned] == [
        "2026-03-02",
        "2026-03-05",
        "2026-03-09",
        "2026-03-16",
        "2026-03-30",
    ]
    assert Hold.objects.get().released_at is not None


def test_a_course_before_the_clinicians_decision_is_409(team: Team, keyed: Clients, bitten: Incident) -> None:
    asked = {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2026-03-02"}
    answer = keyed(team.liaison).post(case(bitten, "course"), asked, format="json")
    assert (answer.status_code, answer.json()["code"]) == (409, "visit-missing")
    assert "clinician decides" in answer.json()["message"]


def test_an_unapproved_regimen_is_refused_with_those_that_may_be_used(
    team: Team, keyed: Clients, bitten: Incident
) -> None:
    client = keyed(team.liaison)
    client.post(case(bitten, "visit"), visit(team), format="json")
    asked = {"regimen": "pep-im-0-7-21", "starts_on": "2026-03-02"}
    answer = client.post(case(bitten, "course"), asked, format="json")
    assert answer.status_code == 400
    assert "pep-im-0-3-7-14-28 (version 1)" in answer.json()["fields"]["regimen"]
    assert not Course.objects.exists()


def test_a_second_running_course_and_a_second_dose_of_a_day_are_409(
    team: Team, keyed: Clients, bitten: Incident
) -> None:
    client = keyed(team.liaison)
    client.post(case(bitten, "visit"), visit(team), format="json")
    asked = {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2026-03-02"}
    first = client.post(case(bitten, "course"), asked, format="json").json()
    again = client.post(case(bitten, "course"), asked, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "course-running")
    address = f"/api/v1/courses/{first['id']}/doses/"
    client.post(address, {"given_on": "2026-03-02"}, format="json")
    twice = client.post(address, {"given_on": "2026-03-02"}, format="json")
    assert (twice.status_code, twice.json()["code"]) == (409, "dose-on-record")
    assert Dose.objects.count() == 1


VISIT_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"visited_on": "2026-03-01"}, "visited_on"),
    ({"visited_on": "2026-03-03"}, "visited_on"),
    ({"visited_on": "02/03/2026"}, "visited_on"),
    ({"decision": "aspirin"}, "decision"),
    ({"immunoglobulin": True}, "immunoglobulin"),
    ({"clinic": 999}, "clinic"),
    ({"note": "x" * 501}, "note"),
    ({"dose": 1}, "dose"),
]


@pytest.mark.parametrize(("change", "field"), VISIT_FAULTS)
def test_a_visit_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, bitten: Incident, change: dict[str, Any], field: str
) -> None:
    answer = keyed(team.liaison).post(case(bitten, "visit"), visit(team, **change), format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])
    assert not Visit.objects.exists()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"given_on": "2026-03-03"}, "given_on"),
        ({"given_on": "2026-03-01"}, "given_on"),
        ({"route": "SC"}, "route"),
        ({"injections": 0}, "injections"),
        ({"injections": 10**25}, "injections"),
        ({"batch": "x" * 61}, "batch"),
    ],
)
def test_a_dose_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, bitten: Incident, change: dict[str, Any], field: str
) -> None:
    client = keyed(team.liaison)
    client.post(case(bitten, "visit"), visit(team), format="json")
    asked = {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2026-03-02"}
    course = client.post(case(bitten, "course"), asked, format="json").json()
    said = {"given_on": "2026-03-02"} | change
    answer = client.post(f"/api/v1/courses/{course['id']}/doses/", said, format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])
    assert not Dose.objects.exists()


def test_the_clinic_of_another_site_is_refused(team: Team, keyed: Clients, bitten: Incident) -> None:
    foreign = Clinic.objects.create(site=team.other_site, name="Other Clinic", phone="000 2")
    answer = keyed(team.liaison).post(case(bitten, "referral"), {"clinic": foreign.pk}, format="json")
    assert answer.status_code == 400
    assert "Test Clinic" in answer.json()["fields"]["clinic"]
    assert "Other Clinic" not in answer.json()["fields"]["clinic"]
    assert not Referral.objects.exists()


def test_a_first_dose_planned_a_year_ahead_is_a_slip_of_the_pen(
    team: Team, keyed: Clients, bitten: Incident
) -> None:
    client = keyed(team.liaison)
    client.post(case(bitten, "visit"), visit(team), format="json")
    asked = {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2062-03-02"}
    answer = client.post(case(bitten, "course"), asked, format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, ["starts_on"])
    assert not Course.objects.exists()


def test_ones_own_visit_and_dose_are_somebody_elses_to_record(
    team: Team, keyed: Clients, bitten: Incident, now: datetime
) -> None:
    also_member(team, team.liaison)
    own, colleague = keyed(team.liaison), keyed(team.officer)

    def recorded(address: str, body: dict[str, Any]) -> dict[str, Any]:
        refused = own.post(address, body, format="json")
        assert (refused.status_code, refused.json()["code"]) == (403, "own-record")
        assert list(refused.json()["fields"]) == ["person"]
        answer = colleague.post(address, body, format="json")
        assert answer.status_code == 201
        return dict(answer.json())

    recorded(case(bitten, "visit"), visit(team))
    assert Hold.objects.get().released_by == team.officer
    ordered = {"regimen": team.post_exposure.code, "starts_on": "2026-03-02"}
    course = own.post(case(bitten, "course"), ordered, format="json").json()
    recorded(f"/api/v1/courses/{course['id']}/doses/", {"given_on": "2026-03-02"})
    assert Dose.objects.get().recorded_by == team.officer


def test_a_visit_keeps_immunoglobulin_as_the_clinic_wrote_it(
    team: Team, keyed: Clients, bitten: Incident
) -> None:
    said = {"immunoglobulin": "yes", "immunoglobulin_on": "2026-03-02", "immunoglobulin_amount": "1 500 IU"}
    answer = keyed(team.liaison).post(case(bitten, "visit"), visit(team, **said), format="json")
    assert answer.status_code == 201 and said.items() <= answer.json().items()


def test_not_available_is_an_answer_of_its_own(team: Team, keyed: Clients, bitten: Incident) -> None:
    asked = visit(team, immunoglobulin="unavailable")
    answer = keyed(team.liaison).post(case(bitten, "visit"), asked, format="json")
    assert (answer.status_code, answer.json()["immunoglobulin"]) == (201, "unavailable")


def test_a_regimen_for_somebody_else_is_asked_back_where_the_client_has_not_confirmed_it(
    team: Team, keyed: Clients, bitten: Incident
) -> None:
    client = keyed(team.liaison)
    client.post(case(bitten, "visit"), visit(team), format="json")
    asked: dict[str, Any] = {"regimen": "pep-immunised-im-0-3", "starts_on": "2026-03-02"}
    back = client.post(case(bitten, "course"), asked | {"confirmed": False}, format="json")
    assert (back.status_code, back.json()["code"]) == (400, "to-confirm")
    assert set(back.json()["fields"]) == {"regimen", "confirmed"}
    made = client.post(case(bitten, "course"), asked, format="json")
    assert (made.status_code, made.json()["regimen"]) == (201, "pep-immunised-im-0-3")
    dose = f"/api/v1/courses/{made.json()['id']}/doses/"
    assert client.post(dose, {"given_on": "2026-03-02"}, format="json").status_code == 201
