"""Reports through the door: one row however often it is sent, and nothing for eyes it isn't meant for."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import pytest

from safety.models import Incident, WashSpell
from staff.models import AuditEntry, Hold, Outing, User
from tests.api.conftest import Clients
from tests.factories import Team, make_outing, make_person

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/incidents/"
KEY = "0f8fad5b-d9cb-469f-a165-70867728950e"
BITE = {
    "kind": "bite",
    "happened_at": "2026-03-02T08:40:00+03:00",
    "animal": "dog-roaming",
    "wounds": [{"contact": "bitten", "body_site": "hand", "broke_skin": "yes", "bled": "yes"}],
    "washed_minutes": 15,
    "soap": "yes",
}


def send(keyed: Clients, user: User, report: dict[str, Any], key: str | None = KEY) -> Any:
    headers = {} if key is None else {"Idempotency-Key": key}
    return keyed(user).post(ADDRESS, report, format="json", headers=headers)


def test_a_member_reports_their_own_bite_and_reads_what_to_do_next(team: Team, keyed: Clients) -> None:
    answer = send(keyed, team.member, BITE)
    assert answer.status_code == 201
    said = answer.json()
    assert (said["person"], said["key"], said["site"]) == (team.person.pk, KEY, "hillside")
    assert [step["code"] for step in said["next_steps"]] == ["referral", "visit"]
    assert said["emergency_number"] == "000" and "clinicians decide treatment" in said["caution"]
    assert Hold.objects.get().person == team.person


def test_the_same_report_under_the_same_key_is_201_with_the_same_row(team: Team, keyed: Clients) -> None:
    answers = [send(keyed, team.member, BITE) for _try in range(3)]
    other_zone = send(
        keyed, team.member, BITE | {"happened_at": "2026-03-02T05:40:00Z", "person": team.person.pk}
    )
    assert [answer.status_code for answer in (*answers, other_zone)] == [201] * 4
    assert len({answer.content for answer in (*answers, other_zone)}) == 1
    assert (Incident.objects.count(), WashSpell.objects.count()) == (1, 1)


@pytest.mark.parametrize("change", [{"kind": "scratch"}, {"washed_minutes": None}, {"narrative": "more"}])
def test_the_same_key_with_another_body_is_422(team: Team, keyed: Clients, change: dict[str, Any]) -> None:
    send(keyed, team.member, BITE)
    answer = send(keyed, team.member, BITE | change)
    assert (answer.status_code, answer.json()["code"]) == (422, "key-reused")
    assert Incident.objects.count() == 1


def test_the_same_key_with_another_outing_is_422(team: Team, keyed: Clients, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    send(keyed, team.officer, BITE | {"person": team.person.pk})
    answer = send(keyed, team.officer, BITE | {"person": team.person.pk, "outing": outing.pk})
    assert answer.status_code == 422


@pytest.mark.parametrize("key", [None, "", "two words", "x" * 201, "ключ"])
def test_a_report_without_a_usable_key_names_the_header(team: Team, keyed: Clients, key: str | None) -> None:
    answer = send(keyed, team.member, BITE, key)
    assert (answer.status_code, list(answer.json()["fields"])) == (400, ["Idempotency-Key"])
    assert not Incident.objects.exists()


def test_a_key_in_quotes_is_the_same_key(team: Team, keyed: Clients) -> None:
    """A structured header carries its text in quotes (RFC 8941, section 3.3.3)."""
    assert send(keyed, team.member, BITE).json() == send(keyed, team.member, BITE, f'"{KEY}"').json()


def test_a_key_that_is_no_uuid_belongs_to_the_account(team: Team, keyed: Clients) -> None:
    first = send(keyed, team.member, BITE, "today-1")
    assert first.status_code == send(keyed, team.member, BITE, "today-1").status_code == 201
    other = send(keyed, team.officer, BITE | {"person": team.person.pk}, "today-1")
    assert other.status_code == 201 and other.json()["id"] != first.json()["id"]
    assert uuid.UUID(first.json()["key"])


def test_a_crew_lead_reports_for_the_bitten_and_learns_that_it_arrived(team: Team, keyed: Clients) -> None:
    answer = send(keyed, team.lead, BITE | {"person": team.person.pk})
    assert answer.status_code == 201 and answer.json()["reference"]
    assert answer.json()["next_steps"] == []


@pytest.mark.parametrize("who", ["member", "stranger"])
def test_nobody_reports_for_people_who_are_not_theirs(
    team: Team, keyed: Clients, now: datetime, who: str
) -> None:
    other = make_person(team.site, team.officer, now, number="2")
    answer = send(keyed, getattr(team, who), BITE | {"person": other.pk})
    assert (answer.status_code, list(answer.json()["fields"])) == (400, ["person"])


def test_an_outing_of_another_site_is_refused(team: Team, keyed: Clients, now: datetime) -> None:
    outing, _crew = make_outing(team.other_site, team.stranger, now)
    answer = send(keyed, team.officer, BITE | {"person": team.person.pk, "outing": outing.pk})
    assert list(answer.json()["fields"]) == ["outing"] and Outing.objects.count() == 1


FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"kind": "nibble"}, "kind"),
    ({"kind": None}, "kind"),
    ({"happened_at": "2026-03-02T08:40:00"}, "happened_at"),
    ({"happened_at": "2026-03-02"}, "happened_at"),
    ({"happened_at": "2026-03-02T25:00:00Z"}, "happened_at"),
    ({"happened_at": "2026-03-03T08:40:00Z"}, "happened_at"),
    ({"happened_at": "0001-01-01T00:00:00+14:00"}, "happened_at"),
    ({"happened_at": "1900-01-01T00:00:00+14:00"}, "happened_at"),
    ({"happened_at": "9999-12-31T23:59:59-12:00"}, "happened_at"),
    ({"animal": "wolf"}, "animal"),
    ({"causes": ["fate"]}, "causes.0"),
    ({"causes": "distracted"}, "causes"),
    ({"wounds": [{"contact": "bitten", "depth": 3}]}, "wounds.0.depth"),
    ({"wounds": [{"bled": True}]}, "wounds.0.bled"),
    ({"wounds": [{}] * 21}, "wounds"),
    ({"wounds": [{"contact": "none"}]}, "contact"),
    ({"washed_minutes": 181}, "washed_minutes"),
    ({"washed_minutes": "NaN"}, "washed_minutes"),
    ({"narrative": "a\0b"}, "narrative"),
    ({"outing": 999}, "outing"),
    ({"category": "III"}, "category"),
]


@pytest.mark.parametrize(("change", "field"), FAULTS)
def test_a_report_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, change: dict[str, Any], field: str
) -> None:
    answer = send(keyed, team.member, BITE | change)
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])
    assert not Incident.objects.exists()


def test_a_report_is_not_refused_for_its_length(team: Team, keyed: Clients) -> None:
    told = "The dog turned. " * 2000
    assert send(keyed, team.member, BITE | {"narrative": told}).status_code == 201
    assert Incident.objects.get().narrative == told.strip()


def test_an_officer_who_sends_again_and_reads_the_next_steps_is_in_the_trail(
    team: Team, keyed: Clients
) -> None:
    report = BITE | {"person": team.person.pk}
    send(keyed, team.officer, report)
    assert not AuditEntry.objects.filter(action="record.seen").exists()
    send(keyed, team.officer, report)
    assert AuditEntry.objects.get(action="record.seen").person == team.person


def test_a_case_is_read_with_its_needs_by_whoever_may_see_it_and_each_look_is_in_the_trail(
    team: Team, keyed: Clients
) -> None:
    reference = send(keyed, team.member, BITE).json()["reference"]
    answer = keyed(team.liaison).get(f"{ADDRESS}{reference}/")
    assert answer.status_code == 200
    said = answer.json()
    assert [(need["code"], need["due_on"], need["late"]) for need in said["needs"]] == [
        ("referral", "2026-03-02", False),
        ("visit", "2026-03-02", False),
    ]
    assert all(need["words"] for need in said["needs"])
    assert [step["code"] for step in said["next_steps"]] == ["referral", "visit"]
    looks = AuditEntry.objects.filter(target=reference, action="record.seen")
    assert looks.get().actor == team.liaison


def test_of_a_case_nobody_else_learns_that_it_exists(team: Team, keyed: Clients) -> None:
    reference = send(keyed, team.member, BITE).json()["reference"]
    assert keyed(team.member).get(f"{ADDRESS}{reference}/").status_code == 200
    assert keyed(team.stranger).get(f"{ADDRESS}{reference}/").status_code == 404
    assert keyed(team.lead).get(f"{ADDRESS}{reference}/").status_code == 403
    assert keyed(team.officer).get(f"{ADDRESS}NOSUCH/").status_code == 404
