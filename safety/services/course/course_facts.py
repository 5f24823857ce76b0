"""Facts that change a course: each adds a `CourseFact`, by whose count the planner sees that the plan is behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Course, CourseFact
from safety.selectors.case.cases import doses_of
from staff.bell import ring
from staff.ground.limits import fitting, within
from staff.models import User
from staff.services.audit import audit_write


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
    return word_within(word)


def word_within(word: Word) -> Word:
    """The word whole; refused where a part of it is too long."""
    return Word(within(word.said_by, CourseFact, "said_by"), within(word.reason, CourseFact, "reason"))


def lock_course(course: Course) -> Course:
    """The course as it is now, locked until the caller's transaction ends."""
    return (
        Course.objects.select_for_update(of=("self",), no_key=True)
        .select_related("regimen", "incident__site__rules", "incident__person", "person", "clinic")
        .get(pk=course.pk)
    )


def given_in(course: Course) -> list[date]:
    """The dates of the doses that stand, in order."""
    return list(doses_of(course).values_list("given_on", flat=True))


def lock_running(course: Course) -> Course:
    locked = lock_course(course)
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
        before=fitting(before, CourseFact, "before"),
        after=fitting(after, CourseFact, "after"),
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
