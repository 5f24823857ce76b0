"""The doses of a course: recorded, asked back where they are odd by the plan, voided."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict
from safety.models import Course
from safety.services.course.course_checks import need_word
from safety.services.course.course_facts import lock_course
from safety.services.course.dose_checks import check_dose_day, dose_doubt
from safety.words import dose_doubt_words
from staff.bell import ring
from staff.ground.transactions import retried
from staff.models import Dose, Evidence, Purpose, User
from staff.services.audit import audit_write
from staff.services.record.own_record import need_somebody_else
from staff.services.record.records import dose_record


@retried
def course_dose_record(
    *,
    actor: User,
    course: Course,
    given_on: date,
    now: datetime,
    route: str = "",
    injections: int | None = None,
    product: str = "",
    batch: str = "",
    place: str = "",
    confirmed: bool = False,
) -> Dose:
    """Record a dose of a running course; Celery (or the next tick) computes the dates that follow.

    Raises `Invalid` for a date that can't be, and, unless `confirmed`, `Unconfirmed` for one that is odd by the plan (too
    early, before its window, beyond the regimen): the clinic's paper may still say so. `Conflict` for a second dose of a day
    and for a course that has ended.
    """
    check_dose_day(course, given_on, now)
    with transaction.atomic():
        locked = lock_course(course)
        if locked.ended_on is not None:
            raise Conflict(_("This course has ended; a dose can't be added to it."), code="course-ended")
        need_somebody_else(actor=actor, person=locked.person)
        # Of a day that has a dose already, the record says so below.
        taken = locked.person.doses.filter(given_on=given_on).exists()
        doubt = None if taken else dose_doubt(locked, given_on)
        need_word(dose_doubt_words(doubt) if doubt else "", "given_on", confirmed=confirmed)
        dose = _keep_dose(
            actor,
            locked,
            given_on,
            now,
            route=route,
            injections=injections,
            product=product,
            batch=batch,
            place=place,
        )
        if doubt is not None:
            audit_write(
                actor=actor,
                action="dose.confirmed",
                now=now,
                person=locked.person,
                target=f"dose:{dose.pk}",
                doubt=str(doubt.doubt),
            )
        ring("safety.plan_course", locked.pk)
    return dose


def _keep_dose(
    actor: User,
    course: Course,
    given_on: date,
    now: datetime,
    *,
    route: str,
    injections: int | None,
    product: str,
    batch: str,
    place: str,
) -> Dose:
    """A regimen the table lacks proves nothing by itself: such a dose is post-exposure, of no regimen."""
    regimen = course.regimen
    routes = regimen.routes if regimen else []
    return dose_record(
        actor=actor,
        person=course.person,
        given_on=given_on,
        now=now,
        purpose=Purpose(regimen.purpose) if regimen else Purpose.POST_EXPOSURE,
        route=route or (routes[0] if len(routes) == 1 else ""),
        injections=injections,
        product=product,
        batch=batch,
        place=place,
        evidence=Evidence.REGISTER,
        regimen=regimen,
        course_key=course.key,
    )
