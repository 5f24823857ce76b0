"""Which notices a course should have on a given day."""

from collections.abc import Sequence
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from safety.rules.notices.follow_up import (
    DEFAULT_PLAN,
    Audience,
    PlannedDose,
    PlanRow,
    WantedNotice,
    wanted_notices,
)
from staff.rules.regimen.values import RuleError

DUE = date(2026, 3, 9)
LIAISON, MEMBER, OFFICER = Audience.LIAISON, Audience.MEMBER, Audience.OFFICER
Row = tuple[str, int, Audience]


def day(offset: int) -> date:
    return DUE + timedelta(days=offset)


def wanted(offset: int, *, given_on: date | None = None, ended: bool = False) -> set[Row]:
    """(stage, days from due, audience) of the notices wanted `offset` days from the due date."""
    found = wanted_notices(
        doses=[PlannedDose(3, DUE, given_on)], plan=DEFAULT_PLAN, today=day(offset), ended=ended
    )
    assert all((notice.step, notice.due_on) == (3, DUE) for notice in found)
    return {(notice.stage, (notice.send_on - DUE).days, notice.audience) for notice in found}


BEFORE = {("day-before", -1, LIAISON), ("day-before", -1, MEMBER)}
ON_THE_DAY = {("day-of", 0, LIAISON), ("day-of", 0, MEMBER)}


@pytest.mark.parametrize(
    ("offset", "rows"),
    [
        (-30, BEFORE | ON_THE_DAY),
        (-2, BEFORE | ON_THE_DAY),
        (-1, BEFORE | ON_THE_DAY),
        (0, ON_THE_DAY),
        (1, {("day-after", 1, audience) for audience in Audience}),
        (2, {("overdue", 2, audience) for audience in Audience}),
        (3, {("overdue", 3, audience) for audience in Audience}),
        (60, {("overdue", 60, audience) for audience in Audience}),
    ],
)
def test_the_shipped_plan_from_long_before_the_dose_to_long_after(offset: int, rows: set[Row]) -> None:
    assert wanted(offset) == rows


@pytest.mark.parametrize("offset", [-30, -1, 0, 1, 2, 60])
def test_a_dose_given_or_a_course_ended_wants_nothing(offset: int) -> None:
    assert wanted(offset, given_on=day(-1)) == set()
    assert wanted(offset, ended=True) == set()


def in_window(offset: int, plan: Sequence[PlanRow] = DEFAULT_PLAN) -> set[Row]:
    """As `wanted`, of a dose whose window ends fourteen days after it was due, as the fourth of the WHO course does."""
    found = wanted_notices(
        doses=[PlannedDose(4, DUE, None, latest_on=day(14))], plan=plan, today=day(offset), ended=False
    )
    return {(notice.stage, (notice.send_on - DUE).days, notice.audience) for notice in found}


@pytest.mark.parametrize(
    ("offset", "rows"),
    [
        (-1, BEFORE | ON_THE_DAY),
        (0, ON_THE_DAY),
        *((inside, {("day-after", 1, audience) for audience in Audience}) for inside in (1, 2, 3, 13, 14)),
        *((after, {("overdue", after, audience) for audience in Audience}) for after in (15, 16, 60)),
    ],
)
def test_inside_its_window_a_dose_is_told_on_the_day_after_and_chased_from_the_windows_end(
    offset: int, rows: set[Row]
) -> None:
    """WHO position paper 2018 (secondary copy): the fourth dose between days 14 and 28."""
    assert in_window(offset) == rows


@pytest.mark.parametrize("daily_from", [1, 2])
def test_no_plan_of_a_site_goes_silent_inside_a_window(daily_from: int) -> None:
    plan = [PlanRow("day-of", 0, (MEMBER,)), PlanRow("overdue", daily_from, (MEMBER,), repeats_daily=True)]
    assert in_window(1, plan) == {("day-after", 1, MEMBER)}
    assert in_window(14, plan) == {("day-after", 1, MEMBER)}
    assert in_window(15, plan) == {("overdue", 15, MEMBER)}


def test_a_single_row_long_after_the_due_date_waits_for_the_windows_end_too() -> None:
    plan = [PlanRow("overdue", 5, (OFFICER,))]
    assert in_window(5, plan) == in_window(14, plan) == set()
    assert in_window(15, plan) == {("overdue", 15, OFFICER)}


@given(st.integers(0, 30), st.integers(-3, 40))
def test_nobody_is_told_overdue_while_it_is_not_and_nobody_is_forgotten_once_it_is(
    window: int, offset: int
) -> None:
    dose = PlannedDose(1, DUE, None, latest_on=day(window))
    found = wanted_notices(doses=[dose], plan=DEFAULT_PLAN, today=day(offset), ended=False)
    chased = {notice.audience for notice in found if notice.send_on == day(offset) and offset > 0}
    if offset <= window:
        assert "overdue" not in {notice.stage for notice in found}
    else:
        assert chased == set(Audience)


@pytest.mark.parametrize("audience", Audience)
def test_each_of_the_three_is_told_every_day_until_the_dose_is_recorded(audience: Audience) -> None:
    told = {day: [send_on for _, send_on, who in wanted(day) if who is audience] for day in range(1, 10)}
    assert told == {day: [day] for day in range(1, 10)}


def test_each_dose_has_notices_of_its_own_in_order_of_sending() -> None:
    doses = [PlannedDose(1, day(-7), day(-7)), PlannedDose(2, day(-4), None), PlannedDose(3, DUE, None)]
    found = wanted_notices(doses=doses, plan=DEFAULT_PLAN, today=day(-4), ended=False)
    assert [(notice.step, notice.stage, notice.send_on) for notice in found] == [
        (2, "day-of", day(-4)),
        (2, "day-of", day(-4)),
        (3, "day-before", day(-1)),
        (3, "day-before", day(-1)),
        (3, "day-of", DUE),
        (3, "day-of", DUE),
    ]


def test_a_plan_of_the_sites_own_is_followed() -> None:
    plan = [PlanRow("three-days-before", -3, (OFFICER,)), PlanRow("day-of", 0, (MEMBER,))]
    found = wanted_notices(doses=[PlannedDose(1, DUE, None)], plan=plan, today=day(-9), ended=False)
    assert found == (
        WantedNotice("three-days-before", 1, DUE, day(-3), OFFICER),
        WantedNotice("day-of", 1, DUE, DUE, MEMBER),
    )


def test_a_plan_cannot_repeat_before_the_dose_is_overdue() -> None:
    with pytest.raises(RuleError) as caught:
        PlanRow("nag", 0, (MEMBER,), repeats_daily=True)
    assert caught.value.field == "offset_days"


rows = st.builds(
    lambda offset, audiences, daily: PlanRow(
        f"at{offset}", offset, tuple(sorted(audiences)), daily and offset > 0
    ),
    st.integers(-5, 5),
    st.sets(st.sampled_from(Audience), min_size=1),
    st.booleans(),
)
plans = st.lists(rows, max_size=6, unique_by=lambda row: row.stage)


@given(plans, st.integers(-10, 15))
def test_of_the_notices_whose_day_has_come_only_the_newest_is_left_and_none_ahead_is_lost(
    plan: list[PlanRow], offset: int
) -> None:
    found = wanted_notices(doses=[PlannedDose(1, DUE, None)], plan=plan, today=day(offset), ended=False)
    for audience in Audience:
        own = [notice for notice in found if notice.audience is audience]
        assert len({notice.send_on for notice in own if notice.send_on <= day(offset)}) <= 1
        planned = {
            day(row.offset_days)
            for row in plan
            if audience in row.audiences and offset < row.offset_days <= 0
        }
        assert {notice.send_on for notice in own if notice.send_on > day(offset)} == planned
        if any(audience in row.audiences and row.offset_days <= offset for row in plan):
            assert any(notice.send_on <= day(offset) for notice in own)


@given(plans, st.integers(-10, 15))
def test_the_same_question_has_the_same_answer_and_nothing_twice(plan: list[PlanRow], offset: int) -> None:
    dose = PlannedDose(1, DUE, None)
    one = wanted_notices(doses=[dose, dose], plan=plan, today=day(offset), ended=False)
    other = wanted_notices(doses=[dose], plan=plan[::-1], today=day(offset), ended=False)
    assert one == other
    assert len(one) == len(set(one))
