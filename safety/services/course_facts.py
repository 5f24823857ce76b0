"""Facts that change a course: each adds a `CourseFact`, by whose count the planner sees that the plan is behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Course, CourseFact
from safety.selectors.cases import doses_of
from staff.bell import ring
from staff.models import User
from staff.services.audit import audit_write
from staff.services.clearance import need_reason


@dataclass(frozen=True)
class Word:
    """Who of the clinic said so, and why."""

    said_by: str
    reason: str


def need_clinicians_word(word: Word) -> Word:
    """Raises `Invalid` unless both are there: a course changes and stops on the clinician's word only."""
    missing = {
        "said_by": "" if word.said_by.strip() else _("Write down which clinician said so."),
        "reason": "" if word.reason.strip() else _("Write down the clinician's reason."),
    }
    if any(missing.values()):
        raise Invalid({name: words for name, words in missing.items() if words})
    return Word(word.said_by.strip()[:120], need_reason(word.reason))


def hold_course(course: Course) -> Course:
    """The course as it is now, held until the caller's transaction ends."""
    return (
        Course.objects.select_for_update(of=("self",), no_key=True)
        .select_related("regimen", "incident__site__rules", "incident__person", "person", "clinic")
        .get(pk=course.pk)
    )


def given_in(course: Course) -> list[date]:
    """The dates of the doses that stand, in order."""
    return list(doses_of(course).values_list("given_on", flat=True))


def hold_running(course: Course) -> Course:
    locked = hold_course(course)
    if locked.ended_on is not None:
        raise Conflict(_("This course has ended already."), code="course-ended")
    return locked


def tell(
    actor: User,
    course: Course,
    kind: CourseFact.Kind,
    word: Word,
    now: datetime,
    *,
    before: str = "",
    after: str = "",
    doses: Sequence[tuple[str, str]] = (),
) -> None:
    """The fact, its place in the audit trail and the bell for the planner."""
    CourseFact.objects.create(
        course=course,
        kind=kind,
        at=now,
        by=actor,
        said_by=word.said_by,
        reason=word.reason,
        before=before[:300],
        after=after[:300],
        doses=[list(pair) for pair in doses],
    )
    audit_write(
        actor=actor,
        action=f"course.{kind.value}",
        now=now,
        person=course.person,
        target=course.incident.reference,
        reason=word.reason,
        said_by=word.said_by,
        before=before,
        after=after,
    )
    ring("safety.plan_course", course.pk)
