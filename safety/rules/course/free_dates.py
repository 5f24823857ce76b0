"""A course on dates the clinic wrote, where the approved table lacks its regimen: nothing is computed from them."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from staff.rules.regimen.schedule import EXTRA, SAME_DAY, PlannedStep, Schedule
from staff.rules.regimen.values import RuleError

# Courses take weeks, the longest some months; a date beyond a year is a slip of the pen (common practice, no source).
LONGEST = timedelta(days=366)
MOST_DATES = 12


def check_dates(dates: Sequence[date], *, not_before: date) -> None:
    """Raises RuleError, field "dates", when there are none or too many, one lies before `not_before` (the incident)
    or over a year after it, or they aren't in order. Codes: "none", "too-many", "before", "far", "order"."""
    if not dates:
        raise RuleError("dates", "A course by name needs a date.", "none")
    if len(dates) > MOST_DATES:
        raise RuleError("dates", f"More than {MOST_DATES} dates.", "too-many")
    if min(dates) < not_before:
        raise RuleError("dates", f"{min(dates)} lies before the incident.", "before")
    if max(dates) > not_before + LONGEST:
        raise RuleError("dates", f"{max(dates)} lies over a year after the incident.", "far")
    if any(later <= earlier for earlier, later in zip(dates, dates[1:], strict=False)):
        raise RuleError("dates", "The dates aren't in order.", "order")


def plan_free(*, dates: Sequence[date], given: Iterable[date]) -> Schedule:
    """The clinic's dates as a schedule: doses given mark them in order, whenever they were given.

    Nobody knows the windows of such a regimen, so a dose is late from the day after its date, and none is ever too
    early. Days count from the first date given, or else the first date written. A dose beyond the dates is "extra".
    Raises RuleError without dates.
    """
    if not dates:
        raise RuleError("dates", "A course by name needs a date.", "none")
    taken, not_counted = _marks(dates, given)
    day_zero = taken[0] if taken else dates[0]
    steps = tuple(
        PlannedStep(
            number=place + 1,
            day=max(0, (due_on - day_zero).days),
            due_on=due_on,
            latest_on=due_on,
            given_on=given_on,
            days_late=max(0, (given_on - due_on).days) if given_on else 0,
            injections=1,
        )
        for place, due_on in enumerate(dates)
        for given_on in [taken[place] if place < len(taken) else None]
    )
    last = steps[-1]
    return Schedule(steps, last.given_on or last.due_on, not_counted, None)


def _marks(dates: Sequence[date], given: Iterable[date]) -> tuple[list[date], tuple[tuple[date, str], ...]]:
    taken: list[date] = []
    not_counted: list[tuple[date, str]] = []
    for day in sorted(given):
        if taken and taken[-1] == day:
            not_counted.append((day, SAME_DAY))
        elif len(taken) == len(dates):
            not_counted.append((day, EXTRA))
        else:
            taken.append(day)
    return taken, tuple(not_counted)
