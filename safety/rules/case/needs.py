"""What a case may need: one row for each, and what its visits leave to be done. Sentences: safety.selectors.case.need_words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from safety.rules.course.dose_due import overdue_from
from safety.rules.notices.follow_up import Audience, Subject


class NeedCode(StrEnum):
    """In order of urgency."""

    WASH = "wash"
    REFERRAL = "referral"
    VISIT = "visit"
    DECISION = "decision"
    COURSE = "course"
    IMMUNOGLOBULIN = "immunoglobulin"
    DATES_DIFFER = "dates-differ"
    DOSE = "dose"
    PLAN = "plan"
    UNDATED = "undated"
    COMPLETE = "complete"
    RESUME = "resume"
    UNLISTED = "unlisted"
    TITRE = "titre"
    DETAILS = "details"
    ANIMAL_LAST_DAY = "animal-last-day"
    ANIMAL_CHECK_MISSING = "animal-check-missing"
    ANIMAL_CHECK_TODAY = "animal-check-today"
    ANIMAL_LABORATORY = "animal-laboratory"
    ANIMAL_WATCH = "animal-watch"
    CLOSE = "close"


class Bar(StrEnum):
    """Why closing is refused: the code of the refusal."""

    VISIT = "visit-missing"
    COURSE = "course-running"
    SHORT = "course-short"
    ANIMAL = "animal-watched"
    DETAILS = "details-missing"


@dataclass(frozen=True)
class NeedRow:
    """`bars`: closing is refused while it stands. `subject`: the plan of notices tells of it under this name.

    `of_clinic`: a step of the clinic's side, before any dose can be planned. No part has a default: one that is
    forgotten fails when the module is read.
    """

    bars: Bar | None
    subject: Subject | None
    of_clinic: bool
    for_whom: frozenset[Audience]


_DESK = frozenset({Audience.LIAISON, Audience.OFFICER})
_ALL = frozenset(Audience)
_OFFICER = frozenset({Audience.OFFICER})

NEEDS: Mapping[NeedCode, NeedRow] = {
    NeedCode.WASH: NeedRow(None, None, False, _ALL),
    NeedCode.REFERRAL: NeedRow(None, None, True, _DESK),
    NeedCode.VISIT: NeedRow(Bar.VISIT, Subject.VISIT, True, _ALL),
    NeedCode.DECISION: NeedRow(None, Subject.DECISION, True, _DESK),
    NeedCode.COURSE: NeedRow(None, Subject.DECISION, True, _DESK),
    NeedCode.IMMUNOGLOBULIN: NeedRow(None, None, False, _DESK),
    NeedCode.DATES_DIFFER: NeedRow(None, None, False, _ALL),
    NeedCode.DOSE: NeedRow(Bar.COURSE, Subject.DOSE, False, _ALL),
    NeedCode.PLAN: NeedRow(Bar.COURSE, None, False, _DESK),
    NeedCode.UNDATED: NeedRow(Bar.COURSE, None, False, _DESK),
    NeedCode.COMPLETE: NeedRow(Bar.COURSE, None, False, _DESK),
    NeedCode.RESUME: NeedRow(Bar.SHORT, Subject.DECISION, False, _DESK),
    NeedCode.UNLISTED: NeedRow(None, None, False, _OFFICER),
    NeedCode.TITRE: NeedRow(None, Subject.TITRE, False, _DESK),
    NeedCode.DETAILS: NeedRow(Bar.DETAILS, None, False, _DESK),
    NeedCode.ANIMAL_LAST_DAY: NeedRow(Bar.ANIMAL, None, False, _DESK),
    NeedCode.ANIMAL_CHECK_MISSING: NeedRow(Bar.ANIMAL, None, False, _DESK),
    NeedCode.ANIMAL_CHECK_TODAY: NeedRow(Bar.ANIMAL, None, False, _DESK),
    NeedCode.ANIMAL_LABORATORY: NeedRow(None, None, False, _DESK),
    NeedCode.ANIMAL_WATCH: NeedRow(Bar.ANIMAL, None, False, _DESK),
    NeedCode.CLOSE: NeedRow(None, None, False, _DESK),
}


class Incomplete(Exception):
    """A table lacks a row: said when its module is read, so the service doesn't start."""


def need_every(table: Mapping[NeedCode, object], name: str) -> None:
    """Raise unless `table` has a row for each code."""
    missing = [code.value for code in NeedCode if code not in table]
    if missing:
        raise Incomplete(f"{name} has no row for: {', '.join(missing)}")


need_every(NEEDS, "NEEDS")


class Decided(StrEnum):
    """What a visit ended with; as safety.models.Decision."""

    COURSE = "course"
    NO_COURSE = "no-course"
    REFERRED_ON = "referred-on"
    PENDING = "pending"


@dataclass(frozen=True)
class VisitFact:
    """A visit that stands: on which date of the site, recorded when, and what was decided."""

    visited_on: date
    recorded_at: datetime
    decided: Decided


@dataclass(frozen=True)
class SeenFacts:
    """Which visits there are; dates are the site's.

    `visits` are in order of their dates. `late_report_at`: when a report opened the case again, `late_report_on` its
    date. `moved_at`: when a report said that the case is another person's than the one it was written for.
    """

    happened_on: date
    visits: Sequence[VisitFact]
    late_report_at: datetime | None
    late_report_on: date | None
    moved_at: datetime | None


@dataclass(frozen=True)
class ClinicFacts:
    """What the clinic's side of an exposed person's case rests on.

    `referred_at`: the referrals that stand. `has_course`: one that wasn't entered in error.
    """

    seen: SeenFacts
    referred_at: Sequence[datetime]
    has_course: bool


@dataclass(frozen=True)
class Asked:
    """Something that isn't recorded; `late_from` is the first date on which that is late.

    `variant` tells which of its sentences is said (safety.selectors.case.need_words).
    """

    code: NeedCode
    due_on: date
    late_from: date
    variant: str = ""


def visits_that_answer(seen: SeenFacts) -> list[VisitFact]:
    """Those that answer what is known now. What was seen before a late report came is no answer to it.

    Both count: recorded after the report came, so by somebody who had it before them, and dated no earlier, for
    nobody can say that a clinician of before knew what it says. Whoever was seen in between: the clinic is rung,
    and that day recorded. Decided here, the safer of the two dates.
    """
    since, since_on = seen.late_report_at, seen.late_report_on
    if since is None or since_on is None:
        return _of_this_person(seen)
    return [
        visit
        for visit in _of_this_person(seen)
        if visit.recorded_at >= since and visit.visited_on >= since_on
    ]


def _of_this_person(seen: SeenFacts) -> list[VisitFact]:
    """Visits recorded before the case was moved are another person's, on whatever day this one went."""
    return [visit for visit in seen.visits if seen.moved_at is None or visit.recorded_at > seen.moved_at]


def visit_asked(seen: SeenFacts) -> Asked | None:
    """The visit that somebody whom something calls to a clinic still has to make."""
    answers = visits_that_answer(seen)
    if not answers:
        # Due the day it happened; what is due on a day is late from the next on.
        late_from = overdue_from(due_on=seen.happened_on, latest_on=seen.happened_on)
        return Asked(NeedCode.VISIT, seen.happened_on, late_from, _why_again(seen))
    last = answers[-1]
    if last.decided is Decided.REFERRED_ON:
        return Asked(NeedCode.VISIT, last.visited_on, last.visited_on, "referred-on")
    return None


def _why_again(seen: SeenFacts) -> str:
    """Which sentence says that a visit is on record and yet no answer."""
    if not seen.visits:
        return ""
    return "late-report" if _of_this_person(seen) else "moved"


def clinic_asks(facts: ClinicFacts) -> Iterator[Asked]:
    """What the clinic's side lacks, for a person whom something calls to a clinic."""
    answers, visit = visits_that_answer(facts.seen), visit_asked(facts.seen)
    told = [at for at in (facts.seen.late_report_at, facts.seen.moved_at) if at is not None]
    if visit is not None:
        if not answers and not any(all(at >= since for since in told) for at in facts.referred_at):
            yield Asked(NeedCode.REFERRAL, visit.due_on, visit.late_from)
        yield visit
        return
    last = answers[-1]
    # A visit that left something open is answered the same day: it is late at once.
    if last.decided is Decided.PENDING:
        yield Asked(NeedCode.DECISION, last.visited_on, last.visited_on)
    elif last.decided is Decided.COURSE and not facts.has_course:
        # A course that was ordered and isn't entered, or was entered in error, reminds nobody of its doses.
        yield Asked(NeedCode.COURSE, last.visited_on, last.visited_on)
