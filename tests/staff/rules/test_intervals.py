"""Intervals against plain sets of days."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from staff.rules.record.intervals import (
    ALWAYS,
    NEVER,
    covers,
    first_day_from,
    intersect,
    last_day_before,
    merge,
    subtract,
)
from staff.rules.regimen.values import Interval
from tests.staff.rules.samples import on

LAST = 14
DAYS = [on(day) for day in range(LAST + 1)]


@st.composite
def interval_lists(draw: st.DrawFn) -> list[Interval]:
    """Intervals that start within DAYS; one without an end covers all of DAYS from its start."""
    found = []
    for _ in range(draw(st.integers(0, 4))):
        start = draw(st.integers(0, LAST))
        end = draw(st.none() | st.integers(start, LAST))
        found.append(Interval(on(start), None if end is None else on(end)))
    return found


def as_days(intervals: list[Interval] | tuple[Interval, ...]) -> set[date]:
    return {day for day in DAYS if covers(intervals, day)}


@given(interval_lists())
def test_merging_keeps_the_days_and_leaves_gaps_between(intervals: list[Interval]) -> None:
    merged = merge(intervals)
    assert as_days(merged) == as_days(intervals)
    for before, after in zip(merged, merged[1:], strict=False):
        assert before.ends_on is not None
        assert before.ends_on + timedelta(days=1) < after.starts_on


@given(interval_lists(), interval_lists())
def test_intersecting_and_subtracting_work_as_on_sets_of_days(a: list[Interval], b: list[Interval]) -> None:
    assert as_days(intersect(a, b)) == as_days(a) & as_days(b)
    assert as_days(subtract(a, b)) == as_days(a) - as_days(b)


@given(interval_lists(), st.integers(0, LAST))
def test_the_first_day_from_and_the_last_day_before_are_the_nearest_ones(
    intervals: list[Interval], day: int
) -> None:
    days = as_days(intervals)
    assert first_day_from(intervals, on(day)) == min((d for d in days if d >= on(day)), default=None)
    assert last_day_before(intervals, on(day)) == max((d for d in days if d < on(day)), default=None)


def test_neighbouring_days_join_and_days_one_apart_do_not() -> None:
    assert merge([Interval(on(0), on(3)), Interval(on(4), on(5))]) == (Interval(on(0), on(5)),)
    assert len(merge([Interval(on(0), on(3)), Interval(on(5), on(5))])) == 2


def test_an_open_interval_stays_open_and_reaches_the_end_of_the_calendar() -> None:
    assert subtract(ALWAYS, [Interval(on(0), on(1))])[1] == Interval(on(2), None)
    assert covers(merge([Interval(on(0), None), Interval(on(2), on(3))]), date.max)
    assert merge([Interval(on(0), date.max)]) == (Interval(on(0), None),)
    assert subtract(ALWAYS, ALWAYS) == NEVER
    assert subtract(ALWAYS, NEVER) == ALWAYS


def test_both_ends_are_included() -> None:
    window = [Interval(on(2), on(4))]
    assert [covers(window, on(day)) for day in range(1, 6)] == [False, True, True, True, False]
