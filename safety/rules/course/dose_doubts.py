"""What is asked back before a dose of a course is kept. The clinician gives doses; this only catches slips."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from staff.ground.dates import add_days
from staff.rules.regimen.schedule import EXTRA, RESTARTED, TOO_EARLY, Schedule

# The longest gap of any table is some weeks, the dose at a year aside; beyond this nothing is looked for.
_LOOKED_AHEAD = 400


class DoseDoubt(StrEnum):
    """What is odd about a dose. The first three would not count by the plan."""

    TOO_EARLY = "too-early"
    BEYOND = "beyond"
    DISPLACES = "displaces"
    BEFORE_WINDOW = "before-window"


@dataclass(frozen=True)
class Doubted:
    """`on`: too early, the date from which the dose counts; before its window, the date it is due on; displaces,
    the later dose that would no longer count. None where there is no such date."""

    doubt: DoseDoubt
    on: date | None = None


def dose_doubts(
    *, given_on: date, given: Iterable[date], plan: Callable[[Sequence[date]], Schedule]
) -> Doubted | None:
    """The weightiest doubt about a dose on `given_on` beside those on record (`given`); None for a plausible one.

    `plan` gives the schedule of the course for a list of dates given. A date that is on record already is for the
    record itself to refuse. Pure, so that many doses can be asked about one after another.
    """
    before = sorted(given)
    schedule = plan(sorted([*before, given_on]))
    fresh = [item for item in schedule.not_counted if item not in plan(before).not_counted]
    for day, why in fresh:
        if why == RESTARTED:
            # A late dose is given, not doubted; that the course starts again with it is the site's rule.
            return None
        if day == given_on and why == TOO_EARLY:
            return Doubted(DoseDoubt.TOO_EARLY, _counts_from(given_on, before, plan))
        if day == given_on and why == EXTRA:
            return Doubted(DoseDoubt.BEYOND)
        if day != given_on:
            return Doubted(DoseDoubt.DISPLACES, day)
    step = next((step for step in schedule.steps if step.given_on == given_on), None)
    if step is not None and step.number > 1 and given_on < step.due_on:
        return Doubted(DoseDoubt.BEFORE_WINDOW, step.due_on)
    return None


def _counts_from(
    given_on: date, before: Sequence[date], plan: Callable[[Sequence[date]], Schedule]
) -> date | None:
    """The first later date, free of a dose, on which this one would count."""
    for ahead in range(1, _LOOKED_AHEAD):
        day = add_days(given_on, ahead)
        if day in before:
            continue
        schedule = plan(sorted([*before, day]))
        if any(step.given_on == day for step in schedule.steps):
            return day
    return None
