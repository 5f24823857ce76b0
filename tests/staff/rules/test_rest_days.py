"""The longest run of days and the days off after it, at their edges."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from staff.rules.outing.rest_days import RestRules, misses_day_off

FIRST = date(2028, 2, 25)  # over the leap day and the end of the month


def days(*numbers: int) -> frozenset[date]:
    return frozenset(FIRST + timedelta(days=number) for number in numbers)


@pytest.mark.parametrize(
    ("out", "day", "missed"),
    [
        ((0, 1, 2, 3, 4), 5, False),  # the sixth in a row
        ((0, 1, 2, 3, 4, 5), 6, True),  # the seventh
        ((0, 1, 2, 3, 4, 5), 7, False),  # after one day off
        ((1, 2, 3, 4, 5, 6), 0, True),  # put before a longest run
        ((0, 1, 2, 4, 5, 6), 3, True),  # closing a gap
        ((0, 1, 2, 3, 4, 5, 6, 7), 20, False),  # what was broken before costs nobody a later day
    ],
)
def test_six_days_and_one_off(out: tuple[int, ...], day: int, missed: bool) -> None:
    assert misses_day_off(days(*out), FIRST + timedelta(days=day), RestRules(6, 1)) is missed


@pytest.mark.parametrize(("day", "missed"), [(3, True), (4, True), (5, False)])
def test_two_days_off_are_two(day: int, missed: bool) -> None:
    assert misses_day_off(days(0, 1, 2), FIRST + timedelta(days=day), RestRules(3, 2)) is missed
