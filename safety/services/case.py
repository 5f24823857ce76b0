"""The clinic's side: referral, visit, the clinician's decision, the course and its doses."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Answer, Clinic, Course, Decision, Incident, Referral, Visit
from safety.services.closing import hold_open
from safety.services.incidents import hold_source
from staff.bell import ring
from staff.models import Dose, Evidence, Hold, Purpose, Regimen, User
from staff.selectors.regimens import approved_at
from staff.services.audit import audit_write
from staff.services.clearance import need_reason
from staff.services.own_record import need_somebody_else
from staff.services.records import check_past_date, dose_record, dose_void, hold_release
from staff.services.transactions import retried

# A first dose planned later than this is a slip of the pen; common practice, no source.
LONGEST_WAIT = timedelta(days=90)
POST_EXPOSURE = (Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED)


def _need_own_clinic(incident: Incident, clinic: Clinic) -> None:
    if clinic.site_id != incident.site_id:
        raise Invalid({"clinic": _("Choose a clinic of this site's list.")})


def _check_date(incident: Incident, field: str, value: date, now: datetime) -> None:
    check_past_date(field, value, incident.site.local_date(now))
    if value < incident.site.local_date(incident.happened_at):
        raise Invalid({field: _("This lies before the incident; check both dates.")})


@retried
def referral_make(*, actor: User, incident: Incident, clinic: Clinic, now: datetime) -> Referral:
    """Send the person to a clinic of the site; more than one referral is allowed."""
    _need_own_clinic(incident, clinic)
    with transaction.atomic():
        hold_open(incident)
        referral = Referral.objects.create(
            incident=incident, clinic=clinic, referred_at=now, referred_by=actor
        )
        audit_write(
            actor=actor, action="referral.made", now=now, person=incident.person, target=incident.reference
        )
    return referral


@retried
def visit_record(
    *,
    actor: User,
    incident: Incident,
    clinic: Clinic,
    visited_on: date,
    decision: str,
    now: datetime,
    clinician: str = "",
    immunoglobulin: str = Answer.UNKNOWN,
    note: str = "",
    next_on: date | None = None,
) -> Visit:
    """Record a visit and the clinician's decision; ends the hold the exposure placed, through the day of the visit.

    Hence nobody records their own: raises `NotAllowed`.
    """
    _need_own_clinic(incident, clinic)
    _check_date(incident, "visited_on", visited_on, now)
    if decision not in Decision.values:
        raise Invalid({"decision": _("Choose what the clinician decided, or “not decided yet”.")})
    try:
        with transaction.atomic():
            hold_open(incident)
            need_somebody_else(actor=actor, person=incident.person)
            visit = Visit.objects.create(
                incident=incident,
                clinic=clinic,
                visited_on=visited_on,
                clinician=clinician,
                decision=decision,
                immunoglobulin=immunoglobulin,
                note=note[:500],
                next_on=next_on,
                recorded_by=actor,
                recorded_at=now,
            )
            audit_write(
                actor=actor,
                action="visit.recorded",
                now=now,
                person=incident.person,
                target=incident.reference,
            )
            for hold in Hold.objects.filter(source=hold_source(incident), released_at__isnull=True):
                hold_release(
                    actor=actor, hold=hold, last_day=visited_on, note=_("Clinic visit recorded."), now=now
                )
    except IntegrityError as error:
        message = _("A visit to this clinic on that day is recorded already.")
        raise Conflict(message, code="visit-on-record", fields={"visited_on": message}) from error
    return visit


@retried
def visit_decide(
    *, actor: User, visit: Visit, decision: str, now: datetime, immunoglobulin: str = Answer.UNKNOWN
) -> None:
    """Record the decision of a visit that had none yet; one that was recorded is never changed."""
    if decision not in Decision.values or decision == Decision.PENDING:
        raise Invalid({"decision": _("Choose what the clinician decided.")})
    with transaction.atomic():
        hold_open(visit.incident)
        changed = Visit.objects.filter(pk=visit.pk, decision=Decision.PENDING).update(
            decision=decision, immunoglobulin=immunoglobulin
        )
        if changed != 1:
            raise Conflict(
                _("The decision of this visit is recorded already; record a further visit instead."),
                code="visit-decided",
            )
        audit_write(
            actor=actor,
            action="visit.decided",
            now=now,
            person=visit.incident.person,
            target=visit.incident.reference,
            decision=decision,
        )


@retried
def course_start(
    *, actor: User, incident: Incident, regimen: Regimen, starts_on: date, now: datetime
) -> Course:
    """Record the course the clinician ordered, on a regimen the site's authority has approved.

    `starts_on` is the date the first dose is expected on; day 0 is the date it is given.
    """
    visit = incident.visits.filter(decision=Decision.COURSE).order_by("visited_on").last()
    if visit is None:
        raise Conflict(
            _("Record the clinic visit with the decision for a course first; the clinician decides."),
            code="visit-missing",
        )
    if not approved_at(incident.site, *POST_EXPOSURE).filter(pk=regimen.pk).exists():
        raise Invalid({"regimen": _("This regimen isn't approved for post-exposure use at this site.")})
    if starts_on < incident.site.local_date(incident.happened_at):
        raise Invalid({"starts_on": _("This lies before the incident; check both dates.")})
    if starts_on > incident.site.local_date(now) + LONGEST_WAIT:
        raise Invalid(
            {"starts_on": _("This lies far ahead, and nothing waits after a bite; check the year.")}
        )
    rules = incident.site.rules
    try:
        with transaction.atomic():
            hold_open(incident)
            course = Course.objects.create(
                incident=incident,
                person=incident.person,
                regimen=regimen,
                late_rule=rules.late_rule,
                restart_after_days=rules.restart_after_days,
                starts_on=starts_on,
                started_by=actor,
                started_at=now,
            )
            audit_write(
                actor=actor,
                action="course.started",
                now=now,
                person=incident.person,
                target=incident.reference,
                regimen=f"{regimen.code}@{regimen.version}",
            )
            ring("safety.plan_course", course.pk)
    except IntegrityError as error:
        raise Conflict(_("A course is running for this case already."), code="course-running") from error
    return course


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
) -> Dose:
    """Record a dose of a running course; Celery (or the next tick) computes the dates that follow."""
    _check_date(course.incident, "given_on", given_on, now)
    with transaction.atomic():
        locked = (
            Course.objects.select_for_update(of=("self",))
            .select_related("regimen", "person")
            .get(pk=course.pk)
        )
        if locked.ended_on is not None:
            raise Conflict(_("This course has ended; a dose can't be added to it."), code="course-ended")
        need_somebody_else(actor=actor, person=locked.person)
        dose = dose_record(
            actor=actor,
            person=locked.person,
            given_on=given_on,
            now=now,
            purpose=Purpose(locked.regimen.purpose),
            route=route or (locked.regimen.routes[0] if len(locked.regimen.routes) == 1 else ""),
            injections=injections,
            product=product,
            batch=batch,
            place=place,
            evidence=Evidence.REGISTER,
            regimen=locked.regimen,
            course_key=locked.key,
        )
        ring("safety.plan_course", locked.pk)
    return dose


@retried
def course_dose_void(*, actor: User, course: Course, dose: Dose, reason: str, now: datetime) -> None:
    """Void a dose of this course; the plan follows."""
    if dose.course_key != course.key:
        raise Invalid({"dose": _("This dose belongs to another course.")})
    with transaction.atomic():
        dose_void(actor=actor, dose=dose, reason=reason, now=now)
        ring("safety.plan_course", course.pk)


def course_end(*, actor: User, course: Course, ended_on: date, reason: str, now: datetime) -> None:
    """End a course: all doses given, or the clinician's word with a reason."""
    reason = need_reason(reason)
    check_past_date("ended_on", ended_on, course.incident.site.local_date(now))
    with transaction.atomic():
        changed = Course.objects.filter(pk=course.pk, ended_on__isnull=True).update(
            ended_on=ended_on, end_reason=reason[:300], ended_by=actor
        )
        if changed != 1:
            raise Conflict(_("This course has ended already."), code="course-ended")
        audit_write(
            actor=actor,
            action="course.ended",
            now=now,
            person=course.person,
            target=course.incident.reference,
            reason=reason,
        )
        ring("safety.plan_course", course.pk)
