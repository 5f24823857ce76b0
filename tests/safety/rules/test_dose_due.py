"""Not yet due, due, in its window, overdue: the day before, the day, the day after of each."""

from datetime import date, timedelta

import pytest

from safety.rules.course.dose_due import DoseDue, days_late, dose_due, is_overdue, overdue_from

DUE, LATEST = date(2026, 2, 27), date(2026, 3, 13)


@pytest.mark.parametrize(
    ("today", "where"),
    [
        (date(2026, 2, 26), DoseDue.NOT_YET),
        (date(2026, 2, 27), DoseDue.DUE),
        (date(2026, 2, 28), DoseDue.IN_WINDOW),
        (date(2026, 3, 2), DoseDue.IN_WINDOW),
        (date(2026, 3, 13), DoseDue.IN_WINDOW),
        (date(2026, 3, 14), DoseDue.OVERDUE),
    ],
)
def test_dose_four_of_the_who_course_in_its_window(today: date, where: DoseDue) -> None:
    """WHO position paper 2018 (secondary copy): four doses, the last between days 14 and 28."""
    assert dose_due(due_on=DUE, latest_on=LATEST, today=today) is where
    assert is_overdue(due_on=DUE, latest_on=LATEST, today=today) is (where is DoseDue.OVERDUE)


@pytest.mark.parametrize(
    ("days", "where"), [(-1, DoseDue.NOT_YET), (0, DoseDue.DUE), (1, DoseDue.OVERDUE), (2, DoseDue.OVERDUE)]
)
def test_without_a_window_it_is_overdue_from_the_next_day_on(days: int, where: DoseDue) -> None:
    assert dose_due(due_on=DUE, latest_on=DUE, today=DUE + timedelta(days=days)) is where


@pytest.mark.parametrize("days", range(-3, 30))
def test_days_late_and_overdue_are_one_answer(days: int) -> None:
    on = DUE + timedelta(days=days)
    late = days_late(due_on=DUE, latest_on=LATEST, on=on)
    assert (late > 0) is is_overdue(due_on=DUE, latest_on=LATEST, today=on)
    assert (on >= overdue_from(due_on=DUE, latest_on=LATEST)) is (late > 0)
