"""A regimen changed in mid-course: doses given stay counted, and what remains keeps its own gaps."""

from __future__ import annotations

from datetime import date, timedelta

from safety.rules.course.changed_regimen import after_change
from staff.rules.regimen.schedule import plan_schedule
from staff.rules.regimen.values import Purpose, Regimen, Route, Step

ZERO = date(2026, 3, 2)
# Four doses on days 0, 3, 7 and one between 14 and 28; and the one of three visits, days 0, 7 and 21: both WHO 2018, read in a
# secondary copy. The smallest gaps are invented for the test.
FOUR = Regimen(
    "four",
    1,
    Purpose.POST_EXPOSURE,
    frozenset({Route.IM}),
    (Step(1, 0, 0, 0), Step(2, 3, 3, 3), Step(3, 7, 7, 4), Step(4, 14, 28, 7)),
)
THREE = Regimen(
    "three",
    1,
    Purpose.POST_EXPOSURE,
    frozenset({Route.IM}),
    (Step(1, 0, 0, 0, 2), Step(2, 7, 7, 7), Step(3, 21, 21, 14)),
)


def days(regimen: Regimen, *given: int) -> list[tuple[int, bool]]:
    """Day and whether it is given, of every step."""
    dates = [ZERO + timedelta(days=day) for day in given]
    schedule = plan_schedule(regimen=regimen, day_zero=ZERO, given=dates)
    return [((step.due_on - ZERO).days, step.given_on is not None) for step in schedule.steps]


def kept(*given: int) -> list[date]:
    return [ZERO + timedelta(days=day) for day in given]


def test_doses_given_count_though_the_new_regimen_would_call_one_too_early() -> None:
    assert days(THREE, 0, 3) == [(0, True), (7, False), (21, False)]
    assert days(after_change(THREE, kept(0, 3)), 0, 3) == [(0, True), (3, True), (17, False)]


def test_what_remains_keeps_its_gaps_from_the_last_dose_given() -> None:
    assert days(after_change(FOUR, kept(0, 7)), 0, 7) == [(0, True), (7, True), (11, False), (18, False)]
    assert after_change(FOUR, kept(0, 7)).steps[3].window_days == 14


def test_as_many_doses_as_the_new_regimen_has_complete_it() -> None:
    assert days(after_change(THREE, kept(0, 3, 7)), 0, 3, 7) == [(0, True), (3, True), (7, True)]
    assert days(after_change(THREE, kept(0, 3, 7, 14)), 0, 3, 7, 14)[-1] == (7, True)


def test_without_a_dose_given_nothing_is_changed() -> None:
    assert after_change(THREE, []) == THREE


def test_injections_and_number_of_the_steps_stay() -> None:
    steps = after_change(THREE, kept(0)).steps
    assert [(step.number, step.injections) for step in steps] == [(1, 2), (2, 1), (3, 1)]
