"""Which clinic to go to: the table that the phone's script is held to as well, and the edges of the rule."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from safety.places.hours import open_spans
from safety.rules.clinic.clinic_choice import (
    Choice,
    ClinicFact,
    ClinicRules,
    Door,
    First,
    InStock,
    Position,
    Span,
    choose_clinic,
    metres_between,
)
from staff.rules.regimen.values import RuleError

TABLE = json.loads((Path(__file__).parent.parent / "clinic_cases.json").read_text())["cases"]
NOW = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
TODAY = date(2026, 3, 2)
ALWAYS = (Span(NOW - timedelta(days=1), NOW + timedelta(days=13)),)


def instant(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def place(said: dict[str, Any] | None) -> Position | None:
    return Position(said["latitude"], said["longitude"]) if said and said["latitude"] is not None else None


def fact(said: dict[str, Any], here: Position | None) -> ClinicFact:
    there = place(said)
    return ClinicFact(
        key=said["id"],
        name=said["name"],
        metres=metres_between(here, there) if here and there else None,
        open=None if said["open"] is None else [Span(instant(a), instant(b)) for a, b in said["open"]],
        vaccine=InStock(said["vaccine"]),
        immunoglobulin=InStock(said["immunoglobulin"]),
        confirmed_on=date.fromisoformat(said["confirmed_on"]),
    )


def figures(kmh: float, **changed: Any) -> ClinicRules:
    """Those a site starts with."""
    began: dict[str, Any] = {
        "news_days": 7,
        "of_the_day": timedelta(minutes=10),
        "immunoglobulin": timedelta(minutes=30),
    }
    return ClinicRules(travel_kmh=kmh, **began | changed)


@pytest.mark.parametrize("case", TABLE, ids=lambda case: case["name"])
def test_the_table(case: dict[str, Any]) -> None:
    here, at = place(case["position"]), instant(case["at"])
    choice = choose_clinic(
        clinics=[fact(said, here) for said in case["clinics"]],
        now=at,
        today=at.date(),
        rules=figures(case["travel_kmh"]),
        immunoglobulin_wanted=case["immunoglobulin_wanted"],
        open_until=instant(case["window"][1]),
        of_the_day=case.get("of_the_day"),
    )
    assert [one.fact.key for one in choice.order] == case["order"]
    assert (choice.chosen.fact.key if choice.chosen else None) == case["chosen"]
    assert {str(one.fact.key): one.door for one in choice.order} == case["doors"]


@pytest.mark.parametrize("case", TABLE, ids=lambda case: case["name"])
def test_the_open_times_of_the_table_are_what_its_hours_say(case: dict[str, Any]) -> None:
    start, end = (instant(text) for text in case["window"])
    for said in case["clinics"]:
        spans = open_spans(
            said["hours"],
            zone=ZoneInfo(case["zone"]),
            holidays=[date.fromisoformat(day) for day in case["holidays"]],
            start=start,
            end=end,
        )
        found = None if spans is None else [(span.opens_at, span.closes_at) for span in spans]
        assert found == (
            None if said["open"] is None else [(instant(a), instant(b)) for a, b in said["open"]]
        )


def clinic(key: int = 1, **changed: Any) -> ClinicFact:
    said: dict[str, Any] = {
        "key": key,
        "name": f"Clinic {key}",
        "metres": 1000,
        "open": ALWAYS,
        "vaccine": InStock.YES,
        "immunoglobulin": InStock.NO,
        "confirmed_on": TODAY,
    }
    return ClinicFact(**said | changed)


def choose(
    *clinics: ClinicFact,
    kmh: float = 30,
    wanted: bool = False,
    day: int | None = None,
    rules: ClinicRules | None = None,
) -> Choice:
    return choose_clinic(
        clinics=clinics,
        now=NOW,
        today=TODAY,
        rules=figures(kmh) if rules is None else rules,
        immunoglobulin_wanted=wanted,
        open_until=ALWAYS[0].closes_at,
        of_the_day=day,
    )


def test_arrival_is_now_plus_the_way_at_the_sites_speed() -> None:
    # 15 km at 30 km/h take half an hour.
    assert choose(clinic(metres=15_000)).order[0].arrival == NOW + timedelta(minutes=30)
    assert choose(clinic(metres=None)).order[0].arrival == NOW


@pytest.mark.parametrize(("days", "stale"), [(0, False), (7, False), (8, True), (None, True)])
def test_knowledge_of_the_stock_is_old_after_a_week(days: int | None, stale: bool) -> None:
    asked = None if days is None else TODAY - timedelta(days=days)
    assert choose(clinic(confirmed_on=asked)).order[0].stale is stale


def test_an_open_door_says_until_when_and_a_closed_one_when_it_opens() -> None:
    soon = (Span(NOW + timedelta(hours=2), NOW + timedelta(hours=5)),)
    opens, shut = choose(clinic(1), clinic(2, open=soon)).order
    assert (opens.door, opens.closes_at, opens.opens_at) == (Door.OPEN, ALWAYS[0].closes_at, None)
    assert (shut.door, shut.closes_at, shut.opens_at) == (Door.CLOSED, None, soon[0].opens_at)


def test_missing_immunoglobulin_is_said_only_where_it_would_be_asked_for() -> None:
    assert choose(clinic(), wanted=True).order[0].lacks_immunoglobulin
    assert not choose(clinic(), wanted=False).order[0].lacks_immunoglobulin


def test_what_can_t_be_reckoned_is_refused_by_name() -> None:
    with pytest.raises(RuleError) as refused:
        choose(clinic(), kmh=0)
    assert refused.value.field == "travel_kmh"
    for wrong in ((90.1, 0), (-90.1, 0), (0, 180.1), (0, -180.1), (float("nan"), 0)):
        with pytest.raises(RuleError):
            Position(*wrong)
    with pytest.raises(RuleError):
        choose_clinic(
            clinics=[],
            now=NOW.replace(tzinfo=None),
            today=TODAY,
            rules=figures(30),
            immunoglobulin_wanted=False,
            open_until=NOW,
        )


YES, NO, UNKNOWN = InStock.YES, InStock.NO, InStock.UNKNOWN


@pytest.mark.parametrize(
    ("days", "vaccine", "relied_on"), [(7, YES, YES), (8, YES, UNKNOWN), (None, YES, UNKNOWN), (8, NO, NO)]
)
def test_old_news_is_never_a_yes_and_an_old_no_stays_one(
    days: int | None, vaccine: InStock, relied_on: InStock
) -> None:
    asked = None if days is None else TODAY - timedelta(days=days)
    assert choose(clinic(vaccine=vaccine, confirmed_on=asked)).order[0].vaccine is relied_on


# 15 km more at 30 km/h are 30 minutes.
@pytest.mark.parametrize(("metres", "first"), [(16_000, 2), (16_009, 1)])
def test_immunoglobulin_is_worth_half_an_hour_more_and_beyond_it_both_are_named(
    metres: int, first: int
) -> None:
    choice = choose(clinic(1), clinic(2, metres=metres, immunoglobulin=YES), wanted=True)
    assert choice.chosen and choice.chosen.fact.key == first
    assert choice.first is (First.IMMUNOGLOBULIN if first == 2 else First.NEAREST)
    assert (choice.elsewhere.fact.key if choice.elsewhere else None) == (None if first == 2 else 2)


# 5 km more are 10 minutes.
@pytest.mark.parametrize(("metres", "first"), [(6_000, 2), (6_009, 1)])
def test_the_clinic_of_the_day_goes_first_when_hardly_farther(metres: int, first: int) -> None:
    choice = choose(clinic(1), clinic(2, metres=metres), day=2)
    assert choice.chosen and choice.chosen.fact.key == first


def test_immunoglobulin_goes_before_the_clinic_of_the_day_reckoned_from_the_nearest() -> None:
    globulin = clinic(3, metres=15_000, immunoglobulin=YES)
    choice = choose(clinic(1), clinic(2, metres=5000), globulin, day=2, wanted=True)
    assert [one.fact.key for one in choice.order] == [3, 2, 1]
    assert choice.farther == timedelta(minutes=28)


def test_immunoglobulin_where_vaccine_is_not_known_moves_nobody_from_where_it_is() -> None:
    choice = choose(clinic(1), clinic(2, vaccine=UNKNOWN, immunoglobulin=YES), wanted=True)
    assert choice.chosen and choice.chosen.fact.key == 1 and choice.elsewhere


def test_the_figures_are_the_sites() -> None:
    """1 km at 30 km/h is two minutes, 11 km twenty-two."""
    near, far = clinic(1), clinic(2, metres=11_000, immunoglobulin=YES)
    assert choose(near, far, wanted=True).first is First.IMMUNOGLOBULIN
    short = figures(30, immunoglobulin=timedelta(minutes=19))
    assert choose(near, far, wanted=True, rules=short).first is First.NEAREST
    assert choose(near, far, day=2).first is First.NEAREST
    assert (
        choose(near, far, day=2, rules=figures(30, of_the_day=timedelta(minutes=20))).first
        is First.OF_THE_DAY
    )
    old = clinic(1, confirmed_on=TODAY - timedelta(days=4))
    assert choose(old).order[0].vaccine is YES
    assert choose(old, rules=figures(30, news_days=3)).order[0].vaccine is UNKNOWN
