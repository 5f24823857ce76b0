"""A course on the clinic's own dates: doses mark them in order and nothing is computed from them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from safety.rules.course.free_dates import MOST_DATES, check_dates, plan_free
from staff.rules.regimen.values import RuleError

BITE = date(2026, 3, 2)
DATES = [date(2026, 3, 2), date(2026, 3, 9), date(2026, 3, 30)]


def test_doses_mark_the_dates_in_order_whenever_they_were_given() -> None:
    schedule = plan_free(dates=DATES, given=[date(2026, 3, 3), date(2026, 3, 8)])
    assert [(step.due_on, step.given_on, step.days_late) for step in schedule.steps] == [
        (DATES[0], date(2026, 3, 3), 1),
        (DATES[1], date(2026, 3, 8), 0),
        (DATES[2], None, 0),
    ]
    assert schedule.not_counted == () and schedule.complete_on == DATES[2]


def test_a_second_dose_of_a_day_and_one_beyond_the_dates_mark_nothing() -> None:
    schedule = plan_free(dates=DATES[:1], given=[DATES[0], DATES[0], DATES[1]])
    assert schedule.not_counted == ((DATES[0], "same-day"), (DATES[1], "extra"))
    assert schedule.steps[0].given_on == DATES[0]


def test_a_date_is_late_from_the_day_after_it() -> None:
    for days in (-1, 0, 1):
        day = DATES[0] + timedelta(days=days)
        assert plan_free(dates=DATES, given=[day]).steps[0].days_late == max(0, days)


def test_without_dates_there_is_no_course() -> None:
    with pytest.raises(RuleError):
        plan_free(dates=[], given=[])


@pytest.mark.parametrize(
    ("dates", "code"),
    [
        ([], "none"),
        ([BITE - timedelta(days=1)], "before"),
        ([BITE, BITE], "order"),
        ([BITE + timedelta(days=7), BITE + timedelta(days=3)], "order"),
        ([BITE + timedelta(days=367)], "far"),
        ([BITE + timedelta(days=n) for n in range(MOST_DATES + 1)], "too-many"),
    ],
)
def test_dates_that_cannot_be_are_named(dates: list[date], code: str) -> None:
    with pytest.raises(RuleError) as refused:
        check_dates(dates, not_before=BITE)
    assert (refused.value.field, refused.value.code) == ("dates", code)


@pytest.mark.parametrize("dates", [[BITE], [BITE + timedelta(days=366)], DATES])
def test_the_day_of_the_bite_and_a_year_after_are_dates(dates: list[date]) -> None:
    check_dates(dates, not_before=BITE)
