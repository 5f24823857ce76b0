"""The dates of a course under each rule for late doses."""

from datetime import date, timedelta

import pytest

from staff.rules.regimen.schedule import Schedule, plan_schedule
from staff.rules.regimen.values import LateRule, Purpose, Regimen, Route, RuleError, Step
from tests.staff.rules.samples import MONDAY, due_days, on, planned, regimen, short_regimen

FIVE = regimen("pep-im-0-3-7-14-28")
WINDOW = regimen("pep-im-0-3-7-14to28")


def late(*given: int, rule: LateRule, after: int | None = None, code: str = "pep-im-0-3-7-14-28") -> Schedule:
    return plan_schedule(
        regimen=regimen(code),
        day_zero=MONDAY,
        given=[on(day) for day in given],
        late_rule=rule,
        restart_after_days=after,
    )


def given_days(schedule: Schedule) -> list[int | None]:
    return [step.given_on and (step.given_on - MONDAY).days for step in schedule.steps]


def test_a_course_without_doses_yet_is_planned_from_day_zero() -> None:
    schedule = planned("pep-im-0-3-7-14-28")
    assert due_days(schedule) == [0, 3, 7, 14, 28]
    assert given_days(schedule) == [None] * 5
    assert (schedule.complete_on, schedule.not_counted) == (on(28), ())


def test_keeping_the_gaps_is_the_rule_unless_another_is_asked_for() -> None:
    assert planned("pep-im-0-3-7-14-28", [0, 3, 10]) == late(0, 3, 10, rule=LateRule.KEEP_GAPS)


def test_doses_on_their_days_leave_the_plan_as_it_is() -> None:
    schedule = planned("pep-im-0-3-7-14-28", [0, 3, 7, 14, 28])
    assert given_days(schedule) == due_days(schedule) == [0, 3, 7, 14, 28]
    assert schedule.complete_on == on(28)


def test_dates_may_come_in_any_order() -> None:
    assert planned("pep-im-0-3-7-14-28", [10, 0, 3]) == planned("pep-im-0-3-7-14-28", [0, 3, 10])


@pytest.mark.parametrize(("day", "counts"), [(2, False), (3, True), (4, True)])
def test_the_second_dose_counts_from_day_3(day: int, counts: bool) -> None:
    schedule = planned("pep-im-0-3-7-14-28", [0, day])
    assert (schedule.steps[1].given_on == on(day)) is counts
    assert schedule.not_counted == (() if counts else ((on(day), "too-early"),))


def test_an_early_dose_leaves_the_dates_where_they_were() -> None:
    assert due_days(planned("pep-im-0-3-7-14-28", [0, 2])) == [0, 3, 7, 14, 28]


def test_the_same_day_twice_and_a_dose_too_many_do_not_count() -> None:
    schedule = planned("pep-immunised-im-0-3", [0, 0, 3, 3, 9])
    assert schedule.not_counted == ((on(0), "same-day"), (on(3), "same-day"), (on(9), "extra"))
    assert given_days(schedule) == [0, 3]


def test_a_dose_inside_its_window_is_not_late_and_later_gaps_run_from_it() -> None:
    windowed = short_regimen("windowed", 0, 7, 21)
    moved = plan_schedule(regimen=windowed, day_zero=MONDAY, given=[on(0), on(9)])
    assert due_days(moved) == [0, 7, 23]
    assert planned("pep-im-0-3-7-14to28", [0, 3, 7, 20]).steps[3].days_late == 0
    third = planned("prep-im-0-7-21", [0, 9]).steps[2]
    assert (third.due_on, third.latest_on) == (on(23), on(30))


def test_lateness_is_counted_against_the_windows_own_moved_end() -> None:
    schedule = planned("pep-im-0-3-7-14to28", [0, 3, 10, 32])
    assert [step.days_late for step in schedule.steps] == [0, 0, 3, 1]
    assert schedule.steps[3].latest_on == on(31)


def test_a_later_dose_does_not_move_the_completion() -> None:
    schedule = planned("prep-im-0-3-7-365", [0, 3, 7])
    assert schedule.complete_on == on(7)
    assert due_days(schedule) == [0, 3, 7, 365]


def test_keeping_the_calendar_leaves_the_remaining_days_alone() -> None:
    assert due_days(late(0, 3, 10, rule=LateRule.KEEP_CALENDAR)) == [0, 3, 7, 14, 28]


def test_keeping_the_calendar_puts_a_passed_day_after_the_dose_before_it() -> None:
    assert due_days(late(0, 3, 16, rule=LateRule.KEEP_CALENDAR)) == [0, 3, 7, 17, 28]
    assert due_days(late(0, 3, 29, rule=LateRule.KEEP_CALENDAR)) == [0, 3, 7, 30, 31]
    assert due_days(late(0, 3, 14, rule=LateRule.KEEP_CALENDAR)) == [0, 3, 7, 15, 28]


def test_keeping_the_calendar_keeps_the_end_of_the_window_too() -> None:
    code = "pep-im-0-3-7-14to28"
    fourth = late(0, 3, 20, rule=LateRule.KEEP_CALENDAR, code=code).steps[3]
    assert (fourth.due_on, fourth.latest_on) == (on(21), on(28))
    fourth = late(0, 3, 30, rule=LateRule.KEEP_CALENDAR, code=code).steps[3]
    assert (fourth.due_on, fourth.latest_on) == (on(31), on(31))


def test_keeping_the_calendar_a_dose_counts_from_its_calendar_date_or_its_gap() -> None:
    assert given_days(late(0, 3, 10, 14, rule=LateRule.KEEP_CALENDAR)) == [0, 3, 10, 14, None]
    early = late(0, 3, 10, 13, rule=LateRule.KEEP_CALENDAR)
    assert early.not_counted == ((on(13), "too-early"),)
    assert late(0, 2, rule=LateRule.KEEP_CALENDAR).not_counted == ((on(2), "too-early"),)


@pytest.mark.parametrize(("day", "restarted"), [(12, False), (13, True)])
def test_a_dose_more_than_the_stated_days_late_starts_again(day: int, restarted: bool) -> None:
    """Due on day 7, so day 12 is five days late and day 13 is six."""
    schedule = late(0, 3, day, rule=LateRule.RESTART, after=5)
    if restarted:
        assert due_days(schedule) == [13, 16, 20, 27, 41]
        assert schedule.not_counted == ((on(0), "restarted"), (on(3), "restarted"))
        assert (schedule.restarted_on, schedule.complete_on) == (on(13), on(41))
        assert schedule.steps[0].given_on == on(13)
        assert schedule.steps[0].days_late == 0
    else:
        assert due_days(schedule) == [0, 3, 7, 19, 33]
        assert (schedule.restarted_on, schedule.not_counted) == (None, ())


def test_a_course_can_start_again_twice_and_then_be_finished() -> None:
    schedule = late(0, 20, 40, 43, 47, 54, 68, rule=LateRule.RESTART, after=5)
    assert given_days(schedule) == [40, 43, 47, 54, 68]
    assert schedule.not_counted == ((on(0), "restarted"), (on(20), "restarted"))
    assert (schedule.restarted_on, schedule.complete_on) == (on(40), on(68))


def test_lateness_for_a_restart_is_counted_from_the_end_of_the_window() -> None:
    code = "pep-im-0-3-7-14to28"
    assert late(0, 3, 7, 29, rule=LateRule.RESTART, after=1, code=code).restarted_on is None
    assert late(0, 3, 7, 30, rule=LateRule.RESTART, after=1, code=code).restarted_on == on(30)


def test_a_late_dose_at_a_year_does_not_undo_a_complete_series() -> None:
    schedule = late(0, 3, 7, 700, rule=LateRule.RESTART, after=5, code="prep-im-0-3-7-365")
    assert schedule.restarted_on is None
    assert schedule.complete_on == on(7)


def test_day_zero_must_be_the_date_of_the_first_dose() -> None:
    for given in ([on(1)], [on(-1), on(3)]):
        with pytest.raises(RuleError, match="Day 0 is 2026-03-02") as caught:
            plan_schedule(regimen=FIVE, day_zero=MONDAY, given=given)
        assert caught.value.field == "day_zero"


@pytest.mark.parametrize("after", [None, 0, -1])
def test_starting_again_needs_a_number_of_days(after: int | None) -> None:
    with pytest.raises(RuleError) as caught:
        late(0, rule=LateRule.RESTART, after=after)
    assert caught.value.field == "restart_after_days"


def test_days_are_counted_by_the_calendar_across_a_leap_day_and_the_end_of_a_year() -> None:
    leap = plan_schedule(regimen=WINDOW, day_zero=date(2024, 2, 22), given=[])
    assert [s.due_on for s in leap.steps][2:] == [date(2024, 2, 29), date(2024, 3, 7)]
    assert leap.steps[3].latest_on == date(2024, 3, 21)
    year = plan_schedule(regimen=FIVE, day_zero=date(2026, 12, 31), given=[])
    assert [s.due_on for s in year.steps] == [date(2026, 12, 31)] + [
        date(2026, 12, 31) + timedelta(days=days) for days in (3, 7, 14, 28)
    ]
    assert year.complete_on == date(2027, 1, 28)


@pytest.mark.parametrize(("day", "counts"), [(4, False), (5, True)])
def test_keeping_the_calendar_a_smallest_gap_that_comes_before_the_calendar_date_is_enough(
    day: int, counts: bool
) -> None:
    steps = (Step(1, 0, 0, 0), Step(2, 7, 7, 5))
    loose = Regimen("loose", 1, Purpose.PRE_EXPOSURE, frozenset({Route.IM}), steps)
    schedule = plan_schedule(
        regimen=loose, day_zero=MONDAY, given=[on(0), on(day)], late_rule=LateRule.KEEP_CALENDAR
    )
    assert (schedule.steps[1].given_on == on(day)) is counts
