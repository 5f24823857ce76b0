"""The regimen table and what is computed from it, through the door."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest

from staff.models import Dose, Regimen, RegimenStep
from staff.services.regimen.approvals import regimen_approve
from tests.api.conftest import Clients
from tests.factories import Team
from tests.staff.regimen_scenes import draft_of

pytestmark = pytest.mark.django_db


def test_the_table_shows_every_version_with_steps_and_source(team: Team, keyed: Clients) -> None:
    rows = keyed(team.member).get("/api/v1/regimens/").json()
    assert len(rows) == Regimen.objects.count() > 10
    assert all(row["source"] and row["steps"] for row in rows)
    assert {row["code"] for row in rows if row["approvals"]} == {
        "prep-im-0-7-21",
        "pep-im-0-3-7-14-28",
        "pep-immunised-im-0-3",
    }


def test_the_day_seven_dose_given_on_day_ten_moves_the_rest_to_days_17_and_31(
    team: Team, keyed: Clients
) -> None:
    """ACIP 2010 (MMWR 59(RR-2)) with its published answers on deviations: the gaps are kept."""
    asked = {"day_zero": "2026-03-02", "given": ["2026-03-02", "2026-03-05", "2026-03-12"]}
    answer = keyed(team.member).post("/api/v1/regimens/pep-im-0-3-7-14-28/schedule/", asked, format="json")
    assert answer.status_code == 200
    due = [step["due_on"] for step in answer.json()["steps"]]
    assert due[3:] == ["2026-03-19", "2026-04-02"]
    assert answer.json()["complete_on"] == "2026-04-02"


def test_a_schedule_has_the_keys_of_the_door_and_no_others(team: Team, keyed: Clients) -> None:
    asked = {"day_zero": "2026-03-02", "given": ["2026-03-02"], "late_rule": "keep-gaps"}
    answer = (
        keyed(team.member).post("/api/v1/regimens/pep-im-0-3-7-14-28/schedule/", asked, format="json").json()
    )
    assert set(answer) == {"steps", "complete_on"}
    keys = {"number", "day", "due_on", "latest_on", "given_on", "days_late", "injections"}
    assert all(set(step) == keys for step in answer["steps"])


@pytest.mark.parametrize(("day", "counts"), [("2026-01-11", False), ("2026-01-12", True)])
def test_a_second_dose_on_day_six_does_not_count_and_on_day_seven_does(
    team: Team, keyed: Clients, day: str, counts: bool
) -> None:
    """CDC CDSi supporting data 4.64, antigen Rabies: no days of grace."""
    asked = {"doses": [{"given_on": "2026-01-05", "route": "IM"}, {"given_on": day}], "on": "2026-02-10"}
    answer = keyed(team.member).post("/api/v1/regimens/prep-im-0-7-21/series/", asked, format="json").json()
    assert set(answer) == {"valid_doses", "complete_on", "next", "doses"}
    second = answer["doses"][1]
    assert set(second) == {"given_on", "counts", "step", "reason", "reason_code"}
    assert second["counts"] is counts
    assert second["reason"] == (None if counts else "1 day too early.")
    assert set(answer["next"]) == {"number", "earliest_on", "due_on", "latest_on"}


def test_a_complete_series_has_no_next_dose(team: Team, keyed: Clients) -> None:
    doses = [{"given_on": day} for day in ("2026-01-05", "2026-01-12", "2026-01-26")]
    asked = {"doses": doses, "on": "2026-02-10"}
    answer = keyed(team.member).post("/api/v1/regimens/prep-im-0-7-21/series/", asked, format="json").json()
    assert (answer["next"], answer["complete_on"], answer["valid_doses"]) == (None, "2026-01-26", 3)


def test_computing_stores_nothing(team: Team, keyed: Clients) -> None:
    asked = {"doses": [{"given_on": "2026-01-05", "route": "IM"}], "on": "2026-02-10"}
    keyed(team.member).post("/api/v1/regimens/prep-im-0-7-21/series/", asked, format="json")
    assert not Dose.objects.exists()


def _second_version(code: str) -> Regimen:
    first = Regimen.objects.get(code=code, version=1)
    second = Regimen.objects.create(
        code=code,
        version=2,
        name="newer",
        purpose=first.purpose,
        routes=["IM"],
        source="test",
        source_kind="memory",
    )
    RegimenStep.objects.create(regimen=second, number=1, day=0, latest_day=0, smallest_gap=0)
    Regimen.objects.filter(pk=second.pk).update(state=Regimen.State.LISTED)
    second.refresh_from_db()
    return second


def test_a_code_gives_the_newest_version_that_is_approved(team: Team, keyed: Clients, now: datetime) -> None:
    client, address = keyed(team.member), "/api/v1/regimens/prep-im-0-7-21/"
    second = _second_version("prep-im-0-7-21")
    assert client.get(address).json()["version"] == 1
    assert client.get(address, {"version": 2}).json()["version"] == 2
    regimen_approve(
        actor=team.officer,
        regimen=second,
        site=team.site,
        authority="Health office of the test",
        approved_on=date(2026, 1, 1),
        document="letter 2",
        now=now,
    )
    assert client.get(address).json()["version"] == 2


@pytest.mark.parametrize("address", ["none-such/", "prep-im-0-7-21/?version=7", "none-such/schedule/"])
def test_a_regimen_that_is_not_there_answers_404(team: Team, keyed: Clients, address: str) -> None:
    client = keyed(team.member)
    call = client.post if "schedule" in address else client.get
    answer = call(f"/api/v1/regimens/{address}")
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")


SCHEDULE_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({}, "day_zero"),
    ({"day_zero": "2 March"}, "day_zero"),
    ({"day_zero": "20260302"}, "day_zero"),
    ({"day_zero": "2026-02-30"}, "day_zero"),
    ({"day_zero": 20260302}, "day_zero"),
    ({"day_zero": "0001-01-01"}, "day_zero"),
    ({"day_zero": "9999-12-31"}, "day_zero"),
    ({"day_zero": "2026-03-02", "given": ["2026-03-05"]}, "day_zero"),
    ({"day_zero": "2026-03-02", "given": "2026-03-02"}, "given"),
    ({"day_zero": "2026-03-02", "given": [None]}, "given.0"),
    ({"day_zero": "2026-03-02", "given": ["2026-03-02"] * 51}, "given"),
    ({"day_zero": "2026-03-02", "late_rule": "whenever"}, "late_rule"),
    ({"day_zero": "2026-03-02", "late_rule": ["keep-gaps"]}, "late_rule"),
    ({"day_zero": "2026-03-02", "late_rule": "restart"}, "restart_after_days"),
    ({"day_zero": "2026-03-02", "late_rule": "restart", "restart_after_days": 0}, "restart_after_days"),
    ({"day_zero": "2026-03-02", "restart_after_days": 10**40}, "restart_after_days"),
    ({"day_zero": "2026-03-02", "day": 1}, "day"),
]


@pytest.mark.parametrize(("asked", "field"), SCHEDULE_FAULTS)
def test_a_schedule_that_cannot_be_read_names_the_field_and_the_remedy(
    team: Team, keyed: Clients, asked: dict[str, Any], field: str
) -> None:
    answer = keyed(team.member).post("/api/v1/regimens/pep-im-0-3-7-14-28/schedule/", asked, format="json")
    assert answer.status_code == 400
    assert list(answer.json()["fields"]) == [field]
    assert len(answer.json()["fields"][field]) > 20 and answer.json()["message"]


SERIES_FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"doses": []}, "on"),
    ({"on": "2026-02-10"}, "doses"),
    ({"on": "2026-02-10", "doses": {}}, "doses"),
    ({"on": "2026-02-10", "doses": ["2026-01-05"]}, "doses.0"),
    ({"on": "2026-02-10", "doses": [{"given_on": "soon"}]}, "doses.0.given_on"),
    ({"on": "2026-02-10", "doses": [{"given_on": "2026-01-05", "route": "by mouth"}]}, "doses.0.route"),
    ({"on": "2026-02-10", "doses": [{"given_on": "2026-01-05", "injections": True}]}, "doses.0.injections"),
    ({"on": "2026-02-10", "doses": [{"given_on": "2026-01-05", "batch": "x"}]}, "doses.0.batch"),
]


@pytest.mark.parametrize(("asked", "field"), SERIES_FAULTS)
def test_a_series_that_cannot_be_read_names_the_field_and_the_remedy(
    team: Team, keyed: Clients, asked: dict[str, Any], field: str
) -> None:
    answer = keyed(team.member).post("/api/v1/regimens/prep-im-0-7-21/series/", asked, format="json")
    assert answer.status_code == 400
    assert field in answer.json()["fields"]


def test_a_draft_is_listed_for_officers_alone_and_every_row_says_its_state(
    team: Team, keyed: Clients, now: datetime
) -> None:
    draft_of(team, now)
    address = "/api/v1/regimens/prep-im-0-7-21/"
    for viewer, drafts in ((team.officer, 1), (team.member, 0), (team.liaison, 0)):
        rows = keyed(viewer).get("/api/v1/regimens/").json()
        assert [row["state"] for row in rows].count("draft") == drafts
        assert {row["state"] for row in rows} <= {"draft", "listed"}
        assert keyed(viewer).get(address).json()["version"] == 1
        assert keyed(viewer).get(address, {"version": 2}).status_code == (200 if drafts else 404)
        asked = {"day_zero": "2026-03-02"}
        answer = keyed(viewer).post(f"{address}schedule/?version=2", asked, format="json")
        assert answer.status_code == (200 if drafts else 404)
