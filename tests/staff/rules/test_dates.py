"""Months by the calendar and the ends of the calendar."""

from datetime import date

import pytest

from staff.ground.dates import add_days, add_months


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        (date(2024, 3, 10), 24, date(2026, 3, 10)),
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2024, 2, 29), 24, date(2026, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2025, 10, 31), 1, date(2025, 11, 30)),
        (date(9999, 12, 5), 1, date.max),
        (date(9999, 11, 5), 1, date(9999, 12, 5)),
    ],
)
def test_months_end_on_the_same_day_or_on_the_last_day_of_a_shorter_month(
    start: date, months: int, end: date
) -> None:
    assert add_months(start, months) == end


def test_days_stop_at_the_ends_of_the_calendar() -> None:
    assert add_days(date(2024, 2, 28), 2) == date(2024, 3, 1)
    assert add_days(date(9999, 12, 30), 5) == date.max
    assert add_days(date(1, 1, 2), -5) == date.min
