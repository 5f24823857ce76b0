"""Taking back a dose of a course."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Invalid
from safety.models import Course
from safety.services.case.closing import lock_open_case
from staff.bell import ring
from staff.ground.transactions import retried
from staff.models import Dose, User
from staff.services.record.records import dose_void


@retried
def course_dose_void(*, actor: User, course: Course, dose: Dose, reason: str, now: datetime) -> None:
    """Void a dose of this course; the plan follows. Refused in a closed case: nobody would be told what it then lacks."""
    if dose.course_key != course.key:
        raise Invalid({"dose": _("This dose belongs to another course.")})
    with transaction.atomic():
        lock_open_case(course.incident)
        dose_void(actor=actor, dose=dose, reason=reason, now=now)
        ring("safety.plan_course", course.pk)
