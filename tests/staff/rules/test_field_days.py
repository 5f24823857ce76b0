"""The days of an area and its dogs over them; weekdays as `calendar` of the standard library has them (Monday 0)."""

from __future__ import annotations

import calendar
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from staff.rules.campaign.field_days import spread, working_days
from staff.rules.regimen.values import RuleError

WORKDAYS = range(5)


def test_work_over_a_weekend_goes_on_on_monday() -> None:
    # 2026-07-03 is a Friday, as calendar.weekday says.
    assert calendar.weekday(2026, 7, 3) == calendar.FRIDAY
    found = working_days(first=date(2026, 7, 3), count=2, weekdays=WORKDAYS)
    assert found == (date(2026, 7, 3), date(2026, 7, 6))


def test_a_first_day_that_isnt_worked_moves_to_the_next_that_is() -> None:
    assert working_days(first=date(2026, 7, 4), count=1, weekdays=WORKDAYS) == (date(2026, 7, 6),)


def test_the_leap_day_is_a_day_and_a_common_year_has_none() -> None:
    """Gregorian rule (ISO 8601): 2028 is a leap year, 2100 is none."""
    every = range(7)
    assert working_days(first=date(2028, 2, 28), count=3, weekdays=every)[1:] == (
        date(2028, 2, 29),
        date(2028, 3, 1),
    )
    assert working_days(first=date(2100, 2, 28), count=2, weekdays=every)[1] == date(2100, 3, 1)


def test_the_end_of_a_month_and_of_a_year_are_crossed() -> None:
    assert working_days(first=date(2026, 12, 31), count=2, weekdays=range(7))[1] == date(2027, 1, 1)


def test_holidays_are_skipped() -> None:
    found = working_days(
        first=date(2026, 7, 3), count=2, weekdays=WORKDAYS, holidays={date(2026, 7, 3), date(2026, 7, 6)}
    )
    assert found == (date(2026, 7, 7), date(2026, 7, 8))


def test_no_weekday_and_a_year_of_holidays_are_refused() -> None:
    with pytest.raises(RuleError) as refused:
        working_days(first=date(2026, 7, 3), count=1, weekdays=[])
    assert refused.value.code == "no-weekday"
    year = {date(2026, 7, 3) + timedelta(days=days) for days in range(400)}
    with pytest.raises(RuleError) as refused:
        working_days(first=date(2026, 7, 3), count=1, weekdays=range(7), holidays=year)
    assert refused.value.code == "only-holidays"


@given(
    st.dates(date(2000, 1, 1), date(2100, 1, 1)),
    st.integers(1, 60),
    st.sets(st.integers(0, 6), min_size=1),
    st.sets(st.integers(0, 90)),
)
def test_days_are_as_many_as_asked_in_order_and_no_day_that_could_be_worked_is_left_out(
    first: date, count: int, weekdays: set[int], off: set[int]
) -> None:
    holidays = {first + timedelta(days=days) for days in off}
    found = working_days(first=first, count=count, weekdays=weekdays, holidays=holidays)
    span = [first + timedelta(days=days) for days in range((found[-1] - first).days + 1)]
    could = [day for day in span if day.weekday() in weekdays and day not in holidays]
    assert list(found) == could and len(found) == count


@pytest.mark.parametrize(
    ("dogs", "days", "expected"),
    [
        # NumPy's documentation of array_split: of l things in n parts the first l % n have one more than l // n.
        (8, 3, (3, 3, 2)),
        (9, 4, (3, 2, 2, 2)),
        (0, 3, (0, 0, 0)),
        (2, 5, (1, 1, 0, 0, 0)),
        (7, 1, (7,)),
        (7, 0, ()),
    ],
)
def test_dogs_are_spread_evenly_and_those_left_over_come_first(
    dogs: int, days: int, expected: tuple[int, ...]
) -> None:
    assert spread(dogs, days) == expected


@given(st.integers(0, 100_000), st.integers(1, 60))
def test_no_dog_is_lost_and_no_day_has_two_more_than_another(dogs: int, days: int) -> None:
    shares = spread(dogs, days)
    assert sum(shares) == dogs and len(shares) == days and max(shares) - min(shares) <= 1
