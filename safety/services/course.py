"""A course and its doses: begun on the clinician's word, on an approved regimen or on dates the clinic wrote."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.letter.facts import letter_facts
from safety.letter.record import record_section
from safety.models import Clinic, Course, CourseDate, Decision, Incident
from safety.rules.answer_doubts import regimen_disagrees
from safety.rules.dose_doubts import Doubted, dose_doubts
from safety.rules.free_dates import MOST_DATES, check_dates
from safety.selectors.cases import doses_of
from safety.selectors.schedules import plan_of
from safety.services.case_dates import check_not_before, check_since_incident
from safety.services.closing import hold_open
from safety.words import dose_doubt_words
from staff.bell import ring
from staff.models import Dose, Evidence, Purpose, Regimen, User
from staff.rules import values
from staff.rules.values import RuleError
from staff.selectors.regimens import approved_at
from staff.services.audit import audit_write
from staff.services.own_record import need_somebody_else
from staff.services.records import dose_record, dose_void
from staff.services.transactions import retried

# A first dose planned later than this is a slip of the pen; common practice, no source.
LONGEST_WAIT = timedelta(days=90)
POST_EXPOSURE = (Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED)


def need_own_clinic(incident: Incident, clinic: Clinic) -> None:
    if clinic.site_id != incident.site_id:
        raise Invalid({"clinic": _("Choose a clinic of this site's list.")})


def need_approved(incident: Incident, regimen: Regimen) -> None:
    if not approved_at(incident.site, *POST_EXPOSURE).filter(pk=regimen.pk).exists():
        raise Invalid({"regimen": _("This regimen isn't approved for post-exposure use at this site.")})


def regimen_doubt(incident: Incident, regimen: Regimen, now: datetime) -> str:
    """A sentence when the table has the regimen for somebody else than the record shows; empty when it fits."""
    facts = letter_facts(incident, None, now)
    purpose = values.Purpose(regimen.purpose)
    if not regimen_disagrees(facts.standing, purpose=purpose, for_whom=regimen.for_whom):
        return ""
    return _("The table has this regimen for: %(whom)s. The record says otherwise: %(record)s") % {
        "whom": regimen.get_for_whom_display(),
        "record": record_section(facts).notes[0],
    }


def need_word(doubt: str, field: str, *, confirmed: bool) -> None:
    """Raises `Invalid`, naming `field`, for a doubt that nobody has confirmed from the clinic's paper."""
    if doubt and not confirmed:
        look = _("Look at the clinic's paper again, or ring the clinic. If it says so, tick this.")
        raise Invalid({field: doubt, "confirmed": look})


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
    for somebody else is asked back with `Invalid`, unless it is `confirmed` that the clinic's paper says so.
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

    The officer is shown it (`courses_unlisted`). Raises `Invalid` for no name, or dates that can't be.
    """
    name = need_name(regimen_name)
    days = need_dates(incident, dates)
    new = Course(incident=incident, person=incident.person, regimen_name=name, starts_on=days[0])
    return _begin(new, days, actor, now, {"regimen_name": name})


def need_name(regimen_name: str) -> str:
    if not regimen_name.strip():
        raise Invalid({"regimen_name": _("Write down what the clinician calls the regimen.")})
    return regimen_name.strip()[:160]


def need_dates(incident: Incident, dates: Sequence[date]) -> list[date]:
    """The clinic's dates; raises `Invalid`, naming the field "dates", with a sentence for each fault."""
    try:
        check_dates(dates, not_before=incident.site.local_date(incident.happened_at))
    except RuleError as error:
        words = {
            "none": _("Write down at least one date the clinic gave."),
            "too-many": _("More than %(n)d dates are no course; check them.") % {"n": MOST_DATES},
            "before": _("A date lies before the incident; check the dates."),
            "far": _("A date lies over a year after the incident; check the year."),
            "order": _("The dates must be in order, each later than the one before; check them."),
        }
        raise Invalid({"dates": words[error.code]}) from error
    return list(dates)


def _begin(new: Course, days: list[date], actor: User, now: datetime, audited: dict[str, Any]) -> Course:
    incident, rules = new.incident, new.incident.site.rules
    new.late_rule, new.restart_after_days = rules.late_rule, rules.restart_after_days
    new.started_by, new.started_at = actor, now
    try:
        with transaction.atomic():
            hold_open(incident)
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


def hold_course(course: Course) -> Course:
    """The course as it is now, held until the caller's transaction ends."""
    return (
        Course.objects.select_for_update(of=("self",), no_key=True)
        .select_related("regimen", "incident__site__rules", "incident__person", "person", "clinic")
        .get(pk=course.pk)
    )


def dose_doubt(course: Course, given_on: date) -> Doubted | None:
    """What is odd about a dose of the course on `given_on` by its plan and the doses that stand."""
    given = list(doses_of(course).filter(voided_at__isnull=True).values_list("given_on", flat=True))
    return dose_doubts(given_on=given_on, given=given, plan=plan_of(course))


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

    Raises `Invalid` for a date that can't be, and, unless `confirmed`, for one that is odd by the plan (too early,
    before its window, beyond the regimen): the clinic's paper may still say so. `Conflict` for a second dose of a day
    and for a course that has ended.
    """
    _check_day(course, given_on, now)
    with transaction.atomic():
        locked = hold_course(course)
        if locked.ended_on is not None:
            raise Conflict(_("This course has ended; a dose can't be added to it."), code="course-ended")
        need_somebody_else(actor=actor, person=locked.person)
        # Of a day that has a dose already, the record says so below.
        taken = locked.person.doses.filter(given_on=given_on, voided_at__isnull=True).exists()
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


def _check_day(course: Course, given_on: date, now: datetime) -> None:
    """By the calendar where the course goes on; the record itself is kept by the site's."""
    check_since_incident(course.incident, "given_on", given_on, course.local_date(now))
    if given_on > course.incident.site.local_date(now):
        words = _("At the site it isn't %(day)s yet: record the dose once it is.")
        raise Invalid({"given_on": words % {"day": date_format(given_on, "DATE_FORMAT")}})


@retried
def course_dose_void(*, actor: User, course: Course, dose: Dose, reason: str, now: datetime) -> None:
    """Void a dose of this course; the plan follows."""
    if dose.course_key != course.key:
        raise Invalid({"dose": _("This dose belongs to another course.")})
    with transaction.atomic():
        dose_void(actor=actor, dose=dose, reason=reason, now=now)
        ring("safety.plan_course", course.pk)
