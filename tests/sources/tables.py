"""What every row of a published table of regimens is held to, whatever its source."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, NamedTuple

import pytest

from tests.sources.doors import TODAY, Doors

# An ordinary Monday; a leap day; a year's end that is a month's end too.
DAY_ZEROS = (date(2026, 3, 2), date(2028, 2, 29), date(2026, 12, 31))


class Row(NamedTuple):
    """`where` it stands in the source; `visits`: day, last day and injections of each, as published."""

    where: str
    code: str
    purpose: str
    route: str
    for_whom: str
    visits: tuple[tuple[int, int, int], ...]
    # Day → the first day on which its dose counts, where another source lets it count before its day.
    counts_from: tuple[tuple[int, int], ...] = ()


def rows(*table: Row) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("row", table, ids=[row.where for row in table])


def pep(where: str, code: str, route: str, *visits: tuple[int, int, int], whom: str = "not-immunised") -> Row:
    purpose = "post-exposure-immunised" if whom == "immunised" else "post-exposure"
    return Row(where, code, purpose, route, whom, visits)


def prep(where: str, code: str, route: str, *visits: tuple[int, int, int], whom: str = "anyone") -> Row:
    return Row(where, code, "pre-exposure", route, whom, visits)


def booster(where: str, code: str, route: str) -> Row:
    return Row(where, code, "booster", route, "immunised", ((0, 0, 1),))


def on_days(*days: int, injections: int = 1) -> tuple[tuple[int, int, int], ...]:
    """Visits without a window."""
    return tuple((day, day, injections) for day in days)


def assert_published(doors: Doors, row: Row) -> None:
    """The table's row and its dates from every kind of day 0."""
    found = doors.get(f"regimens/{row.code}/")
    assert (found["purpose"], found["routes"], found["for_whom"]) == (row.purpose, [row.route], row.for_whom)
    steps = [(step["day"], step["latest_day"], step["injections"]) for step in found["steps"]]
    assert steps == list(row.visits)
    for zero in DAY_ZEROS:
        dated = [(s["due_on"], s["latest_on"], s["injections"]) for s in doors.schedule(row.code, zero)]
        assert dated == [(_day(zero, due), _day(zero, last), times) for due, last, times in row.visits]


def assert_edges(doors: Doors, row: Row) -> None:
    """Each visit a day early, on its first and last day, and a day late; the gaps that follow are kept.

    Early: no days of grace (CDC CDSi 4.64; for post-exposure doses decided here). Late: counts, and the rest keeps
    its gaps (ACIP 2010 with its published answers, the default of a site).
    """
    days = [due for due, _last, _times in row.visits]
    assert len(days) > 1, f"{row.where} has no visit after day 0"
    for place, (due, last, _times) in enumerate(row.visits[1:], start=1):
        first = dict(row.counts_from).get(due, due)
        early = _given(doors, row, [*days[:place], first - 1])[place]
        assert (early["given_on"], early["due_on"]) == (None, _day(DAY_ZEROS[0], due)), (row.where, due)
        for day, late in ((first, 0), (due, 0), (last, 0), (last + 1, 1)):
            steps = _given(doors, row, [*days[:place], day])
            assert (steps[place]["given_on"], steps[place]["days_late"]) == (_day(DAY_ZEROS[0], day), late)
            rest = [step["due_on"] for step in steps[place + 1 :]]
            assert rest == [_day(DAY_ZEROS[0], day + later - due) for later in days[place + 1 :]]


def assert_clears(doors: Doors, row: Row) -> None:
    """Whoever was given a pre-exposure row as published is clear from its last dose on, and not the day before."""
    days = [due for due, _last, _times in row.visits]
    doors.use(row.code, doses_required=len(days))
    first = TODAY - timedelta(days=300)
    for due, _last, times in row.visits[:-1]:
        doors.given(first + timedelta(days=due), route=row.route, injections=times)
    complete = first + timedelta(days=days[-1])
    assert doors.clear(complete)[0] is False
    doors.given(complete, route=row.route, injections=row.visits[-1][2])
    assert doors.clear(complete - timedelta(days=1))[0] is False
    assert doors.clear(complete) == (True, [])


def _given(doors: Doors, row: Row, days: list[int]) -> list[Any]:
    return doors.schedule(row.code, DAY_ZEROS[0], days)


def _day(zero: date, day: int) -> str:
    return (zero + timedelta(days=day)).isoformat()
