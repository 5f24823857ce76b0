"""The dates of a record that reminders hang on: the next dose, the end of a re-check, a briefing, a letter."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from staff.rules.record.clearance import Clearance
from staff.rules.record.intervals import ALWAYS, Intervals
from staff.rules.record.reasons import ReasonCode


class DueKind(StrEnum):
    DOSE = "dose"
    RECHECK = "recheck"
    BRIEFING = "briefing"
    LETTER = "letter"


@dataclass(frozen=True)
class Due:
    """`due_on`: the date of the next dose; of the others, the last day on which the old one still holds."""

    kind: DueKind
    due_on: date


def due_dates(judged: Clearance) -> tuple[Due, ...]:
    """What a record asks for next, at most one date of each kind. Like the clearance, it never depends on today.

    A series that nobody has begun asks for nothing: its first dose has no date until somebody sets one. For
    somebody who goes by a clinician's letter no dose and no re-check is proposed: the last day of the letter is
    named, so that the clinician can be asked in time.
    """
    conditions = {condition.name: condition for condition in (*judged.conditions, *judged.advice)}
    found = []
    if (letter := conditions["letter"].intervals) != ALWAYS:
        if (covered_until := _last_day(letter)) is not None:
            found.append(Due(DueKind.LETTER, covered_until))
    elif conditions["series"].intervals:
        ends = [_last_day(conditions[name].intervals) for name in ("recheck", "later-dose")]
        if known := [day for day in ends if day is not None]:
            found.append(Due(DueKind.RECHECK, min(known)))
    elif (next_dose := _next_dose(judged)) is not None:
        found.append(Due(DueKind.DOSE, next_dose))
    if (ends_on := _last_day(conditions["briefing"].intervals)) is not None:
        found.append(Due(DueKind.BRIEFING, ends_on))
    return tuple(found)


def _last_day(intervals: Intervals) -> date | None:
    return intervals[-1].ends_on if intervals else None


# Somebody whose series has begun, seen from so far ahead that every dose on record has been given.
_UNDER_WAY = frozenset({ReasonCode.SERIES_INCOMPLETE, ReasonCode.TOO_FEW_DOSES})


def _next_dose(judged: Clearance) -> date | None:
    for reason in judged.reasons_on(date.max):
        due_on = reason.params.get("due_on")
        if reason.code in _UNDER_WAY and isinstance(due_on, date):
            return due_on
    return None
