"""Clearance of one person explained through the API: the chain from the record, and the way to a clear date."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from staff.models import AuditEntry
from staff.services.record.holds import hold_place
from tests.api.conftest import Clients
from tests.factories import Team, give_doses

pytestmark = pytest.mark.django_db


def address(team: Team) -> str:
    return f"/api/v1/people/{team.person.pk}/clearance/"


def test_the_chain_goes_from_the_doses_to_the_answer_and_on_to_the_earliest_date(
    team: Team, keyed: Clients, now: datetime
) -> None:
    """Two doses 20 and 13 days before 2 March; the third counts 14 days after the second (CDSi 4.64): 3 March."""
    give_doses(team.person, team.officer, now, 20, 13)
    found = keyed(team.officer).get(address(team)).json()
    assert (found["cleared"], found["stored"], found["on"]) == (False, False, "2026-03-02")
    assert [(dose["counts"], dose["step"]) for dose in found["doses"]] == [(True, 1), (True, 2)]
    unmet = [link for link in found["chain"] if not link["met"]]
    assert [link["codes"] for link in unmet] == [["series-incomplete"]]
    assert "2 of 3 doses count" in unmet[0]["words"][0]
    assert [(a["kind"], a["number"], a["earliest_on"], a["last_on"]) for a in found["actions"]] == [
        ("dose", 3, "2026-03-03", "2026-03-03")
    ]
    assert found["earliest_clear_on"] == "2026-03-03"


def test_a_clear_date_has_every_link_met_and_nothing_left_to_do(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    found = keyed(team.member).get(address(team), {"on": "2026-03-09"}).json()
    assert (found["cleared"], found["stored"], found["actions"]) == (True, True, [])
    assert all(link["met"] for link in found["chain"])
    assert found["earliest_clear_on"] == "2026-03-09"
    series = next(link for link in found["chain"] if link["name"] == "series")
    assert series["since"] == "2026-02-28"


def test_the_answer_agrees_with_the_list_of_everybody_on_every_day(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    client = keyed(team.officer)
    for offset in range(-6, 4):
        on = (now.date() + timedelta(days=offset)).isoformat()
        listed = client.get("/api/v1/clearance/", {"on": on}).json()[0]
        found = client.get(address(team), {"on": on}).json()
        assert found["cleared"] is listed["cleared"]
        codes = [code for link in found["chain"] if link["binding"] for code in link["codes"]]
        assert codes == [reason["code"] for reason in listed["reasons"]]


def test_what_a_person_must_decide_has_no_date(team: Team, keyed: Clients, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    hold_place(actor=team.officer, person=team.person, starts_on=now.date(), reason="waits", now=now)
    found = keyed(team.liaison).get(address(team)).json()
    assert found["earliest_clear_on"] is None
    assert [(a["kind"], a["earliest_on"]) for a in found["actions"]] == [("decision", None)]


def test_a_look_is_noted_and_a_strangers_finds_nothing(team: Team, keyed: Clients) -> None:
    before = AuditEntry.objects.count()
    assert keyed(team.officer).get(address(team)).status_code == 200
    assert AuditEntry.objects.count() == before + 1
    answer = keyed(team.stranger).get(address(team))
    assert (answer.status_code, set(answer.json())) == (404, {"code", "message", "fields"})


def test_a_date_that_is_none_is_refused_at_its_field(team: Team, keyed: Clients) -> None:
    answer = keyed(team.officer).get(address(team), {"on": "soon"})
    assert (answer.status_code, list(answer.json()["fields"])) == (400, ["on"])
