"""Regimens and intervals refuse to contradict themselves."""

from datetime import date

import pytest

from staff.rules.regimen.values import Interval, Purpose, Regimen, Route, RuleError, Step

FIRST = Step(1, 0, 0, 0)


def build(*steps: Step, routes: frozenset[Route] = frozenset({Route.IM})) -> Regimen:
    return Regimen("sample", 1, Purpose.PRE_EXPOSURE, routes, steps)


@pytest.mark.parametrize(
    ("steps", "fault"),
    [
        ((Step(2, 0, 0, 0),), "step 2 should be numbered 1"),
        ((FIRST, Step(3, 7, 7, 7)), "step 3 should be numbered 2"),
        ((Step(1, 1, 1, 0),), "step 1 must be day 0"),
        ((Step(1, 0, 0, 1),), "step 1 must be day 0 with no gap"),
        ((FIRST, Step(2, 0, 0, 0)), "step 2 is not after"),
        ((FIRST, Step(2, 7, 7, 7), Step(3, 3, 9, 0)), "step 3 is not after"),
        ((FIRST, Step(2, 7, 6, 7)), "step 2 has its latest day before its day"),
        ((FIRST, Step(2, 7, 7, -1)), "step 2 has a negative smallest gap"),
        ((FIRST, Step(2, 7, 7, 8)), "step 2 has a smallest gap longer than the planned one"),
        ((FIRST, Step(2, 7, 7, 7, injections=0)), "step 2 has no injection"),
        ((Step(1, 0, 0, 0, later=True),), "step 1 cannot be a later dose"),
        ((FIRST, Step(2, 7, 7, 7, later=True), Step(3, 9, 9, 2)), "step 3 follows a later dose"),
    ],
)
def test_a_regimen_that_contradicts_itself_names_the_step(steps: tuple[Step, ...], fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        build(*steps)


def test_a_regimen_needs_a_step_and_a_route() -> None:
    with pytest.raises(ValueError, match="no steps"):
        build()
    with pytest.raises(ValueError, match="no route"):
        build(FIRST, routes=frozenset())


def test_an_interval_may_be_one_day_and_cannot_end_before_it_starts() -> None:
    day = date(2024, 2, 29)
    assert Interval(day, day).ends_on == day
    with pytest.raises(ValueError, match="before it starts"):
        Interval(day, date(2024, 2, 28))


def test_a_rule_error_is_a_value_error_with_its_field_and_message() -> None:
    error = RuleError("day_zero", "Day 0 is wrong.")
    assert isinstance(error, ValueError)
    assert (error.field, error.message, str(error)) == ("day_zero", "Day 0 is wrong.", "Day 0 is wrong.")
