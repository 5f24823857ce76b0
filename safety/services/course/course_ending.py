"""A course ends in words, each kind with what it needs, and may be taken up again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Course, CourseFact, EndKind
from safety.selectors.course.schedules import course_basis
from safety.services.case.case_dates import check_since_incident
from safety.services.case.closing import lock_open_case
from safety.services.course.course_facts import (
    Word,
    given_in,
    lock_course,
    lock_running,
    need_clinicians_word,
    tell,
    word_within,
)
from staff.ground.transactions import retried
from staff.models import User
from staff.services.record.clearance import need_reason


@retried
def course_end(
    *,
    actor: User,
    course: Course,
    ended_on: date,
    kind: str,
    reason: str,
    now: datetime,
    said_by: str = "",
) -> None:
    """End a course as `kind` (EndKind) says; its reminders stop with it.

    Complete: every dose of the series is given. Stopped: with the clinician's name and reason. Handed over: `said_by`
    is to whom. In error: no dose of it stands. Raises `Invalid` naming what is missing, `Conflict` when it has ended.
    """
    if kind not in EndKind.values:
        raise Invalid({"kind": _("Choose how the course ended.")})
    word = _ending_word(kind, Word(said_by, reason))
    with transaction.atomic():
        locked = lock_running(course)
        check_since_incident(locked.incident, "ended_on", ended_on, locked.local_date(now))
        _check_end(locked, kind)
        locked.ended_on, locked.ended_by = ended_on, actor
        locked.end_kind, locked.end_said_by, locked.end_reason = kind, word.said_by, word.reason
        locked.save(update_fields=["ended_on", "ended_by", "end_kind", "end_said_by", "end_reason"])
        after = str(EndKind(kind).label)
        tell(actor, locked, CourseFact.Kind.ENDED, word, now, after=after)


def _ending_word(kind: str, word: Word) -> Word:
    if kind == EndKind.STOPPED:
        return need_clinicians_word(word)
    reason = need_reason(word.reason)
    if kind == EndKind.TRANSFERRED and not word.said_by.strip():
        raise Invalid(
            {"said_by": _("Write down to whom the course was handed over, with a telephone number.")}
        )
    return word_within(Word(word.said_by, reason))


def _check_end(course: Course, kind: str) -> None:
    given = given_in(course)
    if kind == EndKind.ERROR and given:
        words = _("Doses of this course stand on the record: void them first, or choose how it really ended.")
        raise Invalid({"kind": words})
    if kind == EndKind.COMPLETED and not is_complete(course, given):
        words = _(
            "Not every dose of it is recorded: record the rest, or say that the clinician stopped it or that it was "
            "handed over."
        )
        raise Invalid({"kind": words})


def is_complete(course: Course, given: Sequence[date]) -> bool:
    """Whether every dose that makes the series complete is given."""
    basis = course_basis(course)
    steps = basis(given).steps
    needed = len(basis.regimen.primary_steps) if basis.regimen else len(steps)
    return all(step.given_on is not None for step in steps[:needed])


@retried
def course_resume(*, actor: User, course: Course, reason: str, now: datetime, said_by: str = "") -> None:
    """Take an ended course up again: its doses are planned and reminded of as before."""
    word = word_within(Word(said_by, need_reason(reason)))
    try:
        with transaction.atomic():
            lock_open_case(course.incident)
            locked = lock_course(course)
            if locked.ended_on is None:
                raise Conflict(_("This course is running."), code="course-runs")
            before = str(EndKind(locked.end_kind).label) if locked.end_kind else locked.end_reason
            locked.ended_on, locked.ended_by = None, None
            locked.end_kind, locked.end_said_by, locked.end_reason = "", "", ""
            locked.save(update_fields=["ended_on", "ended_by", "end_kind", "end_said_by", "end_reason"])
            tell(actor, locked, CourseFact.Kind.RESUMED, word, now, before=before)
    except IntegrityError as error:
        message = _("Another course runs for this case; end that one first.")
        raise Conflict(message, code="course-running") from error
