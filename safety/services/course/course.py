"""A course and its doses: begun on the clinician's word, on an approved regimen or on dates the clinic wrote."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Course, CourseDate, Decision, Incident
from safety.services.case.case_dates import check_not_before
from safety.services.case.closing import lock_open_case
from safety.services.course.course_checks import (
    need_approved,
    need_dates,
    need_name,
    need_word,
    regimen_doubt,
)
from staff.bell import ring
from staff.ground.transactions import retried
from staff.models import Regimen, User
from staff.services.audit import audit_write

# A first dose planned later than this is a slip of the pen; common practice, no source.
LONGEST_WAIT = timedelta(days=90)


@retried
def course_start(
    *,
    actor: User,
    incident: Incident,
    regimen: Regimen,
    starts_on: date,
    now: datetime,
    confirmed: bool = False,
) -> Course:
    """Record the course the clinician ordered, on a regimen the site's authority has approved.

    `starts_on` is the date the first dose is expected on; day 0 is the date it is given. A regimen the table has
    for somebody else is asked back with `Unconfirmed`, unless it is `confirmed` that the clinic's paper says so.
    """
    need_approved(incident, regimen)
    check_not_before(incident, "starts_on", starts_on)
    if starts_on > incident.site.local_date(now) + LONGEST_WAIT:
        words = _("This lies far ahead, and nothing waits after a bite; check the year.")
        raise Invalid({"starts_on": words})
    need_word(regimen_doubt(incident, regimen, now), "regimen", confirmed=confirmed)
    new = Course(incident=incident, person=incident.person, regimen=regimen, starts_on=starts_on)
    return _begin(new, [], actor, now, {"regimen": f"{regimen.code}@{regimen.version}"})


@retried
def course_start_named(
    *, actor: User, incident: Incident, regimen_name: str, dates: Sequence[date], now: datetime
) -> Course:
    """Record a course whose regimen the approved table lacks, by the clinician's name for it and the clinic's dates.

    It stays a need of the case, the officer's.
    Its doses prove nothing by themselves. Raises `Invalid` for no name, or dates that can't be.
    """
    name = need_name(regimen_name)
    days = need_dates(incident, dates)
    new = Course(incident=incident, person=incident.person, regimen_name=name, starts_on=days[0])
    return _begin(new, days, actor, now, {"regimen_name": name})


def _begin(new: Course, days: list[date], actor: User, now: datetime, audited: dict[str, Any]) -> Course:
    incident, rules = new.incident, new.incident.site.rules
    new.late_rule, new.restart_after_days = rules.late_rule, rules.restart_after_days
    new.started_by, new.started_at = actor, now
    try:
        with transaction.atomic():
            lock_open_case(incident)
            if not incident.visits.filter(decision=Decision.COURSE).exists():
                raise Conflict(
                    _("Record the clinic visit with the decision for a course first; the clinician decides."),
                    code="visit-missing",
                )
            new.save(force_insert=True)
            dates_write(new, days, first=1, now=now)
            audit_write(
                actor=actor,
                action="course.started",
                now=now,
                person=incident.person,
                target=incident.reference,
                **audited,
            )
            ring("safety.plan_course", new.pk)
    except IntegrityError as error:
        raise Conflict(_("A course is running for this case already."), code="course-running") from error
    return new


def dates_write(course: Course, days: Sequence[date], *, first: int, now: datetime) -> None:
    """Add the clinic's dates from dose number `first` on."""
    CourseDate.objects.bulk_create(
        CourseDate(course=course, number=number, due_on=day, written_at=now)
        for number, day in enumerate(days, start=first)
    )
