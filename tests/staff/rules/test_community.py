"""When owners and neighbours are told in time: two days before the outing or earlier (common practice, no source)."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from staff.rules.campaign.community import Told, owners_told, reminders

# A Thursday; two days before is Tuesday the 3rd.
OUT = date(2026, 3, 5)


def day(of_march: int) -> date:
    return date(2026, 3, of_march)


@pytest.mark.parametrize(
    ("told", "state"),
    [(1, Told.IN_TIME), (2, Told.IN_TIME), (3, Told.IN_TIME), (4, Told.LATE), (5, Told.LATE)],
)
def test_told_two_days_before_is_in_time_and_one_day_before_is_late(told: int, state: Told) -> None:
    found = owners_told(outing_on=OUT, days_before=2, told=[day(told)], today=day(5))
    assert (found.state, found.told_on, found.due_on) == (state, day(told), day(3))


@pytest.mark.parametrize(
    ("today", "state"), [(2, Told.NOT_YET), (3, Told.DUE_TODAY), (4, Told.OVERDUE), (6, Told.OVERDUE)]
)
def test_untold_it_is_due_on_the_second_day_before_and_late_from_the_next(today: int, state: Told) -> None:
    assert owners_told(outing_on=OUT, days_before=2, told=[], today=day(today)).state is state


def test_the_first_that_was_told_counts() -> None:
    found = owners_told(outing_on=OUT, days_before=2, told=[day(4), day(2)], today=day(4))
    assert (found.state, found.told_on) == (Told.IN_TIME, day(2))


def test_the_due_day_of_an_outing_on_the_first_of_march_lies_in_february() -> None:
    found = owners_told(outing_on=date(2028, 3, 1), days_before=2, told=[], today=date(2028, 2, 1))
    assert found.due_on == date(2028, 2, 28)  # 2028 has a 29th of February (ISO 8601)


def asked(today: int, dated_on: date = OUT - timedelta(days=30)) -> list[tuple[str, int]]:
    found = reminders(outing_on=OUT, days_before=2, dated_on=dated_on, today=day(today))
    return [(stage.value, send_on.day) for stage, send_on in found]


def test_one_reminder_on_the_day_it_is_due_and_one_the_day_after() -> None:
    """Each is named a day ahead; what is late takes the place of what was due."""
    assert [asked(today) for today in range(1, 7)] == [
        [],
        [("due", 3)],
        [("due", 3), ("late", 4)],
        [("late", 4)],
        [("late", 4)],
        [],
    ]


@pytest.mark.parametrize("dated", [4, 5])
def test_an_outing_planned_with_less_notice_asks_for_the_late_one_at_once(dated: int) -> None:
    assert asked(dated, day(dated)) == [("late", dated)]


def test_planned_on_the_due_day_it_is_due_that_day() -> None:
    assert asked(3, day(3)) == [("due", 3), ("late", 4)]
