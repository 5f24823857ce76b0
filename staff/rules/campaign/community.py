"""Whether owners and neighbours were told of an outing in time, and when the officers are reminded of it.

Two days ahead or more: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

ONE_DAY = timedelta(days=1)


class Told(StrEnum):
    IN_TIME = "in-time"
    LATE = "late"
    NOT_YET = "not-yet"
    DUE_TODAY = "due-today"
    OVERDUE = "overdue"


class Reminder(StrEnum):
    DUE = "due"
    LATE = "late"


@dataclass(frozen=True)
class OwnersTold:
    """`told_on`: the first day that counts; `due_on`: the last day that is in time."""

    state: Told
    due_on: date
    told_on: date | None = None

    @property
    def is_told(self) -> bool:
        return self.told_on is not None


def due_date(outing_on: date, days_before: int) -> date:
    return outing_on - timedelta(days=days_before)


def owners_told(*, outing_on: date, days_before: int, told: Iterable[date], today: date) -> OwnersTold:
    """Where an outing stands on the site's `today`, with `told` the dates on which somebody was told of this date."""
    due_on, first = due_date(outing_on, days_before), min(told, default=None)
    if first is not None:
        return OwnersTold(Told.IN_TIME if first <= due_on else Told.LATE, due_on, first)
    if today < due_on:
        return OwnersTold(Told.NOT_YET, due_on)
    return OwnersTold(Told.DUE_TODAY if today == due_on else Told.OVERDUE, due_on)


def reminders(
    *, outing_on: date, days_before: int, dated_on: date, today: date
) -> tuple[tuple[Reminder, date], ...]:
    """Which reminders an outing nobody was told of asks for on `today`, each with the day it is sent.

    One on the day it is due and one the day after. `dated_on` is when the outing got its date: with less notice
    than is asked there is only the late one, at once. Each is named a day ahead, for the clocks of its reader may be.
    """
    due_on = due_date(outing_on, days_before)
    late_on = max(due_on + ONE_DAY, dated_on)
    wanted = []
    if dated_on <= due_on and due_on - ONE_DAY <= today <= due_on:
        wanted.append((Reminder.DUE, due_on))
    if late_on - ONE_DAY <= today <= outing_on and late_on <= outing_on:
        wanted.append((Reminder.LATE, late_on))
    return tuple(wanted)
