"""What no plan may break, and that none that is accepted leaves a due dose untold."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from safety.rules.notices.follow_up import (
    DEFAULT_PLAN,
    Audience,
    PlannedDose,
    PlanRow,
    Subject,
    wanted_notices,
)
from safety.rules.notices.forecast import forecast
from safety.rules.notices.site_plan import Break, about, breaks, plan_row, sound_plan
from staff.rules.regimen.values import RuleError

LIAISON, MEMBER, OFFICER = Audience.LIAISON, Audience.MEMBER, Audience.OFFICER
ALL = tuple(Audience)
DAY = timedelta(days=1)


def plan(*rows: tuple[int, tuple[Audience, ...], bool]) -> list[PlanRow]:
    return [
        plan_row(Subject.DOSE, offset, audiences, repeats_daily=daily) for offset, audiences, daily in rows
    ]


LEAST = plan((0, (LIAISON, MEMBER), False), (2, ALL, True))


def test_the_shipped_plan_keeps_every_promise() -> None:
    assert all(breaks(DEFAULT_PLAN, what) == () for what in Subject)
    assert set(sound_plan([])) == set(DEFAULT_PLAN) == set(sound_plan(DEFAULT_PLAN))


def test_the_least_a_plan_may_say() -> None:
    assert breaks(LEAST, Subject.DOSE) == ()
    assert about(sound_plan(LEAST), Subject.DOSE) == tuple(LEAST)
    assert about(sound_plan(LEAST), Subject.VISIT) == about(DEFAULT_PLAN, Subject.VISIT)


@pytest.mark.parametrize(
    ("offset", "hour", "in_time"),
    [(-2, 7, False), (-1, None, True), (-1, 23, True), (0, None, True), (0, 12, True), (0, 13, False)],
)
def test_in_time_is_the_day_before_or_by_noon_of_the_day(
    offset: int, hour: int | None, in_time: bool
) -> None:
    told = plan_row(Subject.DOSE, offset, ALL, hour=hour)
    daily = plan_row(Subject.DOSE, 1, ALL, repeats_daily=True)
    assert (breaks([told, daily], Subject.DOSE) == ()) == in_time


@pytest.mark.parametrize(
    ("rows", "fault"),
    [
        (plan((1, ALL, True)), (Break.NOT_IN_TIME, LIAISON)),
        (plan((0, (LIAISON,), False), (1, ALL, True)), (Break.NOT_IN_TIME, MEMBER)),
        (plan((-2, ALL, False), (2, ALL, True)), (Break.NOT_IN_TIME, MEMBER)),
        (plan((0, ALL, False)), (Break.NOT_DAILY, OFFICER)),
        (plan((0, ALL, False), (3, ALL, True)), (Break.NOT_DAILY, LIAISON)),
        (plan((0, ALL, False), (2, ALL, False)), (Break.NOT_DAILY, MEMBER)),
        (plan((0, ALL, False), (2, (LIAISON, OFFICER), True)), (Break.NOT_DAILY, MEMBER)),
        (plan((0, ALL, False), (0, ALL, False), (2, ALL, True)), (Break.TWICE, None)),
        (plan((-31, ALL, False), (0, ALL, False), (2, ALL, True)), (Break.TOO_FAR, None)),
        (plan((-1, (), False), (0, ALL, False), (2, ALL, True)), (Break.NOBODY, None)),
        ([], (Break.NOT_DAILY, OFFICER)),
    ],
)
def test_a_plan_that_leaves_somebody_untold_gives_way_to_the_shipped_one(
    rows: list[PlanRow], fault: tuple[Break, Audience | None]
) -> None:
    assert fault in breaks(rows, Subject.DOSE)
    assert about(sound_plan(rows), Subject.DOSE) == about(DEFAULT_PLAN, Subject.DOSE)


@pytest.mark.parametrize("hour", [-1, 24])
def test_an_hour_lies_between_0_and_23(hour: int) -> None:
    with pytest.raises(RuleError):
        plan_row(Subject.DOSE, 0, ALL, hour=hour)


rows_drawn = st.lists(
    st.builds(
        lambda offset, audiences, daily, hour: plan_row(
            Subject.DOSE, offset, sorted(audiences), repeats_daily=daily and offset > 0, hour=hour
        ),
        st.integers(-5, 5),
        st.sets(st.sampled_from(ALL)),
        st.booleans(),
        st.none() | st.integers(0, 23),
    ),
    max_size=7,
)
# A leap day, a month's and a year's end, and the nights of clock changes in Lisbon and New York.
dates = st.sampled_from(
    [date(2028, 2, 29), date(2026, 12, 31), date(2027, 1, 1), date(2026, 3, 29), date(2026, 11, 1)]
) | st.dates(date(2026, 1, 1), date(2037, 12, 31))


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(rows_drawn, dates, st.integers(0, 20))
def test_no_plan_leaves_a_due_dose_untold_accepted_or_not(
    rows: list[PlanRow], due_on: date, planned_before: int
) -> None:
    """Walked day by day from when the dose is planned: who must hear of it does, once a day at most."""
    told: dict[Audience, list[date]] = {audience: [] for audience in Audience}
    sent: set[object] = set()
    holds = sound_plan(rows)
    for number in range(-planned_before, 12):
        today = due_on + number * DAY
        for notice in wanted_notices(
            doses=[PlannedDose(1, due_on, None)], plan=holds, today=today, ended=False
        ):
            if notice.send_on <= today and notice not in sent:
                sent.add(notice)
                told[notice.audience].append(today)
    for audience in (LIAISON, MEMBER):
        assert any(day <= due_on for day in told[audience])
    for audience in Audience:
        assert {due_on + days * DAY for days in range(2, 12)} <= set(told[audience])
        assert len(told[audience]) == len(set(told[audience]))


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(rows_drawn, dates, st.integers(-20, 20))
def test_the_forecast_is_what_the_days_then_bring(rows: list[PlanRow], due_on: date, offset: int) -> None:
    holds, dose, today = sound_plan(rows), PlannedDose(1, due_on, None), due_on + offset * DAY
    brought = [
        notice
        for number in range(14)
        for notice in wanted_notices(doses=[dose], plan=holds, today=today + number * DAY, ended=False)
        if notice.send_on == today + number * DAY or (not number and notice.send_on < today)
    ]
    foreseen = forecast(doses=[dose], plan=holds, today=today, ended=False)
    assert [each.notice for each in foreseen] == brought
    already = wanted_notices(doses=[dose], plan=holds, today=today, ended=False)
    assert all(each.planned == (each.notice in already) for each in foreseen)


def test_a_dose_given_is_foreseen_by_nobody() -> None:
    dose = PlannedDose(1, date(2026, 3, 9), date(2026, 3, 9))
    assert forecast(doses=[dose], plan=DEFAULT_PLAN, today=date(2026, 3, 1), ended=False) == ()
