"""Who is clear, as each role may know it."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from staff.models import AuditEntry, Clearance
from tests.api.conftest import Clients
from tests.factories import Team, give_doses, make_person

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/clearance/"


def test_an_officer_sees_why_somebody_is_not_clear_and_from_when(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 20, 13)
    rows = keyed(team.officer).get(ADDRESS).json()
    assert len(rows) == 1
    assert set(rows[0]) == {
        "person",
        "number",
        "name",
        "site",
        "cleared",
        "reasons",
        "clear_from",
        "clear_from_words",
    }
    assert rows[0]["cleared"] is False
    assert rows[0]["reasons"][0]["code"] == "series-incomplete"
    assert "2 of 3 doses count" in rows[0]["reasons"][0]["words"]


def test_a_complete_series_is_clear_today_and_was_not_before_it(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    client = keyed(team.officer)
    today = client.get(ADDRESS).json()[0]
    assert (today["cleared"], today["reasons"], today["clear_from"]) == (True, [], "2026-03-02")
    before = client.get(ADDRESS, {"on": "2026-02-27"}).json()[0]
    assert (before["cleared"], before["clear_from"]) == (False, "2026-02-28")


def test_a_crew_lead_sees_whether_but_neither_why_nor_when(team: Team, keyed: Clients, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 20, 13)
    row = keyed(team.lead).get(ADDRESS).json()[0]
    assert (row["name"], row["cleared"], row["reasons"], row["clear_from"]) == (
        "Test Member",
        False,
        [],
        None,
    )


def test_a_member_sees_nobody_else(team: Team, keyed: Clients, now: datetime) -> None:
    make_person(team.site, team.officer, now, number="2")
    rows = keyed(team.member).get(ADDRESS).json()
    assert [row["person"] for row in rows] == [team.person.pk]
    assert rows[0]["reasons"][0]["code"] == "no-doses"


def test_the_code_of_a_foreign_site_answers_as_if_it_were_not_there(team: Team, keyed: Clients) -> None:
    client = keyed(team.officer)
    foreign, absent = client.get(ADDRESS, {"site": "harbour"}), client.get(ADDRESS, {"site": "nowhere"})
    assert foreign.status_code == absent.status_code == 404
    assert foreign.json() == absent.json()
    assert client.get(ADDRESS, {"site": "hillside"}).status_code == 200


@pytest.mark.parametrize("query", [{"on": "tomorrow"}, {"on": ""}, {"day": "2026-03-02"}, {"site": "x\0y"}])
def test_a_query_that_cannot_be_read_names_the_field(
    team: Team, keyed: Clients, query: dict[str, str]
) -> None:
    answer = keyed(team.officer).get(ADDRESS, query)
    assert answer.status_code == 400
    assert set(answer.json()["fields"]) == set(query)


def test_one_look_at_the_board_is_one_row_in_the_audit_trail(
    team: Team, keyed: Clients, now: datetime
) -> None:
    for number in ("2", "3", "4"):
        make_person(team.site, team.officer, now, number=number)
    keyed(team.officer).get(ADDRESS)
    row = AuditEntry.objects.get(action="board.seen")
    assert (row.actor, row.site, row.target) == (team.officer, team.site, "board:2026-03-02")


def test_looks_at_oneself_and_a_leads_look_without_reasons_leave_no_row(team: Team, keyed: Clients) -> None:
    keyed(team.member).get(ADDRESS)
    keyed(team.lead).get(ADDRESS)
    assert not AuditEntry.objects.filter(action="board.seen").exists()


def test_a_clearance_that_lags_behind_the_record_is_not_clear_and_says_so(
    team: Team, keyed: Clients, now: datetime
) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    Clearance.objects.all().delete()
    row = keyed(team.officer).get(ADDRESS).json()[0]
    assert (row["cleared"], [reason["code"] for reason in row["reasons"]]) == (False, ["not-stored"])


def test_the_number_of_queries_does_not_grow_with_the_team(team: Team, keyed: Clients, now: datetime) -> None:
    client = keyed(team.officer)
    client.get(ADDRESS)
    counts = []
    for size in (3, 12):
        for number in range(size):
            give_doses(
                make_person(team.site, team.officer, now, number=f"{size}-{number}"), team.officer, now, 9
            )
        with CaptureQueriesContext(connection) as seen:
            client.get(ADDRESS)
        counts.append(len(seen))
    assert counts[0] == counts[1]
