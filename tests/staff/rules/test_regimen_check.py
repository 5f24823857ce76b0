"""The faults that are named one by one are those for which the rules refuse a regimen."""

from __future__ import annotations

from dataclasses import replace

import hypothesis.strategies as st
import pytest
from hypothesis import given

from staff.rules.regimen.regimen_check import StepFault, regimen_faults
from staff.rules.regimen.values import Purpose, Regimen, Route, Step
from tests.staff.rules.samples import SAMPLES, sample

small = st.integers(-1, 8)
steps_of_any_kind = st.lists(
    st.builds(
        Step, number=st.integers(0, 4), day=small, latest_day=small, smallest_gap=small,
        injections=st.integers(0, 2), later=st.booleans(),
    ),
    max_size=4,
)  # fmt: skip
numbered = steps_of_any_kind.map(lambda steps: [replace(one, number=n) for n, one in enumerate(steps, 1)])


@given(st.sets(st.sampled_from(Route)), st.one_of(steps_of_any_kind, numbered))
def test_a_regimen_without_a_named_fault_is_one_the_rules_take(routes: set[Route], steps: list[Step]) -> None:
    faults = regimen_faults(routes=tuple(routes), steps=steps)
    try:
        Regimen("x", 1, Purpose.PRE_EXPOSURE, frozenset(routes), tuple(steps))
    except ValueError:
        assert faults
    else:
        assert not faults


def test_no_sample_has_a_fault() -> None:
    for one in SAMPLES.values():
        assert not regimen_faults(routes=tuple(one.regimen.routes), steps=one.regimen.steps)


def test_all_faults_are_named_at_once() -> None:
    first, second, third = sample("prep-im-0-7-21").regimen.steps
    found = regimen_faults(
        routes=(),
        steps=(replace(first, day=1, latest_day=0), second, replace(third, injections=0, smallest_gap=15)),
    )
    assert found == (
        StepFault(0, "routes", "no-route"),
        StepFault(1, "latest_day", "before-its-day"),
        StepFault(1, "day", "first-is-day-0"),
        StepFault(2, "smallest_gap", "longer-than-planned"),
        StepFault(3, "injections", "none"),
        StepFault(3, "smallest_gap", "longer-than-planned"),
    )


@pytest.mark.parametrize("day", [7, 6])
def test_a_step_must_lie_after_the_one_before(day: int) -> None:
    first, second, third = sample("prep-im-0-7-21").regimen.steps
    found = regimen_faults(routes=("IM",), steps=(first, second, replace(third, day=day)))
    assert found == (StepFault(3, "day", "not-after-step-before"),)
