"""The one writer of planned doses: regimen row and doses given in, dates out."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import Course, CourseFact, PlanChange, PlannedDose
from safety.notices.course.dose import DOSES
from safety.rules.course.plan_moves import Planned, plan_moves
from safety.selectors.case.cases import courses_behind, every_dose_in
from safety.selectors.course.schedules import compute_schedule
from safety.services.notices.notices import notices_bring
from staff.ground.limits import fitting
from staff.ground.transactions import retried
from staff.models import Dose
from staff.rules.regimen.schedule import Schedule

logger = logging.getLogger(__name__)


@retried
def course_plan(*, course_id: int, now: datetime) -> Course:
    """Compute the schedule of a course from the record, write its planned doses and bring its notices up to date."""
    with transaction.atomic():
        course = (
            Course.objects.select_for_update(of=("self",), no_key=True)
            .select_related("regimen", "incident__site__rules", "person__user")
            .get(pk=course_id)
        )
        recorded = list(every_dose_in(course))
        standing = [dose for dose in recorded if dose.voided_at is None]
        facts = list(course.facts.all())
        schedule = compute_schedule(course, standing)
        _write_moves(course, schedule, _why(course, recorded, facts), now)
        _write(course, schedule, {dose.given_on: dose for dose in standing})
        course.planned_recorded = len(recorded)
        course.planned_voided = len(recorded) - len(standing)
        course.planned_facts = len(facts)
        course.plan_note = _note(schedule)
        course.save(update_fields=["planned_recorded", "planned_voided", "planned_facts", "plan_note"])
        notices_bring(origin=DOSES, subject=course, now=now)
    return course


def _write(course: Course, schedule: Schedule, given: dict[date, Dose]) -> None:
    course.planned_doses.all().delete()
    PlannedDose.objects.bulk_create(
        PlannedDose(
            course=course,
            number=step.number,
            day=step.day,
            due_on=step.due_on,
            latest_on=step.latest_on,
            injections=step.injections,
            given_on=step.given_on,
            dose=given[step.given_on] if step.given_on else None,
            days_late=step.days_late,
        )
        for step in schedule.steps
    )


def _why(course: Course, recorded: Sequence[Dose], facts: Sequence[CourseFact]) -> list[list[str]]:
    """Every fact since the last plan, as pairs of a code and what goes with it (see `PlanChange`)."""
    if course.planned_recorded is None:
        return [["begun", ""]]
    entered = sorted(recorded, key=lambda dose: dose.pk)[course.planned_recorded :]
    voided = sorted((dose.voided_at, dose.pk, dose) for dose in recorded if dose.voided_at is not None)
    return (
        [["dose", dose.given_on.isoformat()] for dose in entered]
        + [["voided", dose.given_on.isoformat()] for _at, _pk, dose in voided[course.planned_voided or 0 :]]
        + [[fact.kind, fact.after] for fact in facts[course.planned_facts :]]
    ) or [["recomputed", ""]]


def _write_moves(course: Course, schedule: Schedule, why: list[list[str]], now: datetime) -> None:
    """The history: what this plan moves against the one it takes the place of. Nothing moved, nothing written."""
    rows = course.planned_doses.all()
    before = [Planned(dose.number, dose.due_on, dose.given_on) for dose in rows]
    after = [Planned(step.number, step.due_on, step.given_on) for step in schedule.steps]
    PlanChange.objects.bulk_create(
        PlanChange(
            course=course,
            at=now,
            number=move.number,
            was_due=move.before.due_on if move.before else None,
            now_due=move.after.due_on if move.after else None,
            was_given=move.before.given_on if move.before else None,
            now_given=move.after.given_on if move.after else None,
            why=why,
        )
        for move in plan_moves(before=before, after=after)
    )


def _note(schedule: Schedule) -> str:
    notes = {
        "too-early": _("%(date)s came too early and doesn't count; ask the clinician."),
        "same-day": _("%(date)s is on record twice."),
        "extra": _("%(date)s is beyond the dates of the course; ask the clinician."),
        "restarted": _("%(date)s no longer counts: the course started again after a long delay."),
    }
    told = " ".join(notes[why] % {"date": date_format(day)} for day, why in schedule.not_counted)
    return fitting(told, Course, "plan_note")


def plans_catch_up(*, now: datetime) -> int:
    """Plan every course that is behind the record; returns how many. One bad course never stops the rest."""
    behind = list(courses_behind().values_list("pk", flat=True))
    planned = 0
    for course_id in behind:
        try:
            course_plan(course_id=course_id, now=now)
            planned += 1
        except Exception:
            # It stays behind the record, which its case shows, and is tried again at the next tick.
            logger.exception("Course %s can't be planned", course_id)
    return planned
