"""The one writer of planned doses: regimen row and doses given in, dates out."""

from __future__ import annotations

import logging
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import Course, PlannedDose
from safety.selectors.cases import courses_behind, doses_of
from safety.selectors.schedules import compute_schedule
from safety.services.notices import course_notices_reconcile
from staff.models import Dose
from staff.rules.schedule import Schedule
from staff.services.transactions import retried

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
        recorded = list(doses_of(course))
        standing = [dose for dose in recorded if dose.voided_at is None]
        schedule = compute_schedule(course, standing)
        _write(course, schedule, {dose.given_on: dose for dose in standing})
        course.planned_recorded = len(recorded)
        course.planned_voided = len(recorded) - len(standing)
        course.plan_note = _note(schedule)
        course.save(update_fields=["planned_recorded", "planned_voided", "plan_note"])
        course_notices_reconcile(courses=[course], now=now)
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


def _note(schedule: Schedule) -> str:
    notes = {
        "too-early": _("%(date)s came too early and doesn't count; ask the clinician."),
        "same-day": _("%(date)s is on record twice."),
        "extra": _("%(date)s is beyond the regimen; ask the clinician."),
        "restarted": _("%(date)s no longer counts: the course started again after a long delay."),
    }
    return " ".join(notes[why] % {"date": date_format(day)} for day, why in schedule.not_counted)[:500]


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
