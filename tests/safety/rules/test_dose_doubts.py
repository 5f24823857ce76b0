"""A dose that is odd by the plan is asked back about, with the date that helps; a plausible one is not."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import pytest

from safety.rules.course.dose_doubts import DoseDoubt, Doubted, dose_doubts
from staff.rules.regimen.schedule import Schedule, plan_schedule
from staff.rules.regimen.values import LateRule, Purpose, Regimen, Route, Step

ZERO = date(2026, 3, 2)
# Days 0, 3, 7, 14 and 28 (WHO 2010, ACIP 2008); the smallest gaps are invented for the test.
FIVE = Regimen(
    "five",
    1,
    Purpose.POST_EXPOSURE,
    frozenset({Route.IM}),
    (Step(1, 0, 0, 0), Step(2, 3, 3, 3), Step(3, 7, 7, 4), Step(4, 14, 14, 6), Step(5, 28, 28, 13)),
)


def on(day: int) -> date:
    return ZERO + timedelta(days=day)


def doubt(day: int, *given: int, late_rule: LateRule = LateRule.KEEP_GAPS) -> Doubted | None:
    def plan(dates: Sequence[date]) -> Schedule:
        return plan_schedule(
            regimen=FIVE,
            day_zero=dates[0] if dates else ZERO,
            given=dates,
            late_rule=late_rule,
            restart_after_days=7 if late_rule is LateRule.RESTART else None,
        )

    return dose_doubts(given_on=on(day), given=[on(each) for each in given], plan=plan)


@pytest.mark.parametrize(
    ("day", "found"),
    [
        (2, Doubted(DoseDoubt.TOO_EARLY, on(3))),
        (3, None),
        (4, None),
        (40, None),
    ],
)
def test_a_dose_before_its_smallest_gap_says_from_when_it_counts(day: int, found: Doubted | None) -> None:
    assert doubt(day, 0) == found


@pytest.mark.parametrize(
    ("day", "found"),
    [
        (12, Doubted(DoseDoubt.TOO_EARLY, on(13))),
        (13, Doubted(DoseDoubt.BEFORE_WINDOW, on(14))),
        (14, None),
    ],
)
def test_a_dose_that_counts_before_the_day_it_is_due_is_asked_about(day: int, found: Doubted | None) -> None:
    assert doubt(day, 0, 3, 7) == found


def test_the_first_dose_is_day_zero_whenever_it_is_given() -> None:
    assert doubt(-1) is None and doubt(0) is None and doubt(5) is None


def test_a_dose_beyond_the_regimen_is_asked_about() -> None:
    assert doubt(40, 0, 3, 7, 14, 28) == Doubted(DoseDoubt.BEYOND)


def test_a_dose_written_down_afterwards_that_takes_the_place_of_a_later_one_is_asked_about() -> None:
    assert doubt(1, 0, 3) == Doubted(DoseDoubt.TOO_EARLY, on(7))
    assert doubt(-1, 0) == Doubted(DoseDoubt.DISPLACES, on(0))


def test_a_late_dose_is_given_and_not_doubted_though_the_course_starts_again_with_it() -> None:
    assert doubt(10, 0, late_rule=LateRule.RESTART) is None
    assert doubt(11, 0, late_rule=LateRule.RESTART) is None


def test_leap_days_and_ends_of_months_are_plain_days() -> None:
    # 29 February 2028 is day 1 of a course begun on the 28th, and 2 March is day 3.
    first = date(2028, 2, 28)

    def plan(dates: Sequence[date]) -> Schedule:
        return plan_schedule(regimen=FIVE, day_zero=dates[0] if dates else first, given=dates)

    early = dose_doubts(given_on=date(2028, 3, 1), given=[first], plan=plan)
    assert early == Doubted(DoseDoubt.TOO_EARLY, date(2028, 3, 2))
    assert dose_doubts(given_on=date(2028, 3, 2), given=[first], plan=plan) is None
