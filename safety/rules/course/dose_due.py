"""Where a planned dose stands on a day: not yet due, due, in its window or overdue. Every page, mail and door asks here.

A regimen's window is the days from the due date to the last day on which the table still takes the dose as in time
(`window_days` of a step: staff.rules.regimen.values; its source stands with each regimen of fixtures/regimens.json).
"""

from datetime import date, timedelta
from enum import StrEnum


class DoseDue(StrEnum):
    """Where a dose that isn't given stands."""

    NOT_YET = "not-yet"
    DUE = "due"
    IN_WINDOW = "in-window"
    OVERDUE = "overdue"


def dose_due(*, due_on: date, latest_on: date, today: date) -> DoseDue:
    """`due_on` is the day it is to be given, `latest_on` the last day of its window; without one both are the same.

    `today` is the date where the dose is given.
    """
    if today < due_on:
        return DoseDue.NOT_YET
    if today == due_on:
        return DoseDue.DUE
    return DoseDue.IN_WINDOW if today <= latest_on else DoseDue.OVERDUE


def is_overdue(*, due_on: date, latest_on: date, today: date) -> bool:
    return dose_due(due_on=due_on, latest_on=latest_on, today=today) is DoseDue.OVERDUE


def days_late(*, due_on: date, latest_on: date, on: date) -> int:
    """Whole days past the last day of the window on `on`; 0 up to and including it."""
    return max(0, (on - max(due_on, latest_on)).days)


def overdue_from(*, due_on: date, latest_on: date) -> date:
    """The first day on which it is overdue."""
    return max(due_on, latest_on) + timedelta(days=1)
