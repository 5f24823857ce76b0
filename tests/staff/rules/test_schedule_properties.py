"""Properties of the schedule under every rule."""

from datetime import timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from staff.rules.record.series import evaluate_series
from staff.rules.regimen.schedule import Schedule, plan_schedule
from staff.rules.regimen.values import DoseFact, LateRule, Regimen
from tests.staff.rules.samples import MONDAY, on
from tests.staff.rules.strategies import regimens

GIVEN = st.lists(st.integers(1, 60), max_size=6).map(lambda days: [0, *sorted(days)])
RULES = st.sampled_from(LateRule)


def schedule(regimen: Regimen, given_days: list[int], rule: LateRule) -> Schedule:
    return plan_schedule(
        regimen=regimen,
        day_zero=MONDAY,
        given=[on(day) for day in given_days],
        late_rule=rule,
        restart_after_days=4 if rule is LateRule.RESTART else None,
    )


@given(regimens(), GIVEN, RULES)
def test_every_date_given_is_a_step_or_is_explained(
    regimen: Regimen, given_days: list[int], rule: LateRule
) -> None:
    result = schedule(regimen, given_days, rule)
    placed = [step.given_on for step in result.steps if step.given_on]
    assert sorted(placed + [day for day, _ in result.not_counted]) == [on(day) for day in given_days]


@given(regimens(), GIVEN, RULES)
def test_every_step_has_a_window_and_steps_never_share_a_day(
    regimen: Regimen, given_days: list[int], rule: LateRule
) -> None:
    result = schedule(regimen, given_days, rule)
    assert [step.number for step in result.steps] == [step.number for step in regimen.steps]
    assert all(step.due_on <= step.latest_on for step in result.steps)
    dates = [step.given_on or step.due_on for step in result.steps]
    assert all(before < after for before, after in pairwise(dates))
    assert result.complete_on == dates[len(regimen.primary_steps) - 1]


@given(regimens(), GIVEN)
def test_keeping_the_gaps_no_two_doses_are_nearer_than_planned_or_than_allowed(
    regimen: Regimen, given_days: list[int]
) -> None:
    result = schedule(regimen, given_days, LateRule.KEEP_GAPS)
    for index, (before, after) in enumerate(pairwise(result.steps), start=1):
        start = before.given_on or before.due_on
        assert after.due_on == start + timedelta(days=regimen.planned_gap(index))
        if after.given_on:
            assert (after.given_on - start).days >= max(1, regimen.steps[index].smallest_gap)


@given(regimens(), GIVEN)
def test_keeping_the_gaps_agrees_with_the_series_rule_on_which_doses_count(
    regimen: Regimen, given_days: list[int]
) -> None:
    planned = schedule(regimen, given_days, LateRule.KEEP_GAPS)
    series = evaluate_series(regimen=regimen, doses=[DoseFact(on(day)) for day in given_days], on=on(100))
    assert [s.given_on for s in planned.steps if s.given_on] == [
        d.dose.given_on for d in series.doses if d.counts
    ]
    assert planned.not_counted == tuple(
        sorted((d.dose.given_on, str(d.reason)) for d in series.doses if d.reason)
    )
    following = next((step for step in planned.steps if step.given_on is None), None)
    assert (following and (following.due_on, following.latest_on)) == (
        series.next and (series.next.due_on, series.next.latest_on)
    )


@given(regimens(), RULES)
def test_on_time_doses_give_the_planned_days_under_every_rule(regimen: Regimen, rule: LateRule) -> None:
    result = schedule(regimen, [step.day for step in regimen.steps], rule)
    assert [step.given_on for step in result.steps] == [on(step.day) for step in regimen.steps]
    assert [step.due_on for step in result.steps] == [on(step.day) for step in regimen.steps]
    assert [step.latest_on for step in result.steps] == [on(step.latest_day) for step in regimen.steps]
    assert not any(step.days_late for step in result.steps)
    assert (result.not_counted, result.restarted_on) == ((), None)


@given(regimens(), GIVEN)
def test_keeping_the_calendar_never_plans_a_step_before_its_own_day(
    regimen: Regimen, given_days: list[int]
) -> None:
    result = schedule(regimen, given_days, LateRule.KEEP_CALENDAR)
    for step in result.steps:
        assert step.due_on >= on(step.day)
