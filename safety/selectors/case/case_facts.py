"""Facts of one case that several questions rest on: who saw the person, the courses meant, immunoglobulin, what is short."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import Course, EndKind, Immunoglobulin, Incident, Observation, Visit
from safety.rules.case.immunoglobulin import last_day_for
from safety.rules.case.needs import ClinicFacts, Decided, SeenFacts, VisitFact, visits_that_answer
from staff.models import Dose


def seen_facts(incident: Incident) -> SeenFacts:
    late, site = incident.late_report_at, incident.site
    return SeenFacts(
        happened_on=site.local_date(incident.happened_at),
        visits=[
            VisitFact(visit.visited_on, visit.recorded_at, Decided(visit.decision))
            for visit in incident.visits.all()
        ],
        late_report_at=late,
        late_report_on=site.local_date(late) if late else None,
        moved_at=incident.moved_at,
    )


def clinic_facts(incident: Incident) -> ClinicFacts:
    return ClinicFacts(
        seen=seen_facts(incident),
        referred_at=[referral.referred_at for referral in incident.referrals.all()],
        has_course=bool(courses_meant(incident)),
    )


def first_seen_on(incident: Incident) -> date | None:
    """The date of the first visit that stands and answers what is known now; None without any."""
    return next((visit.visited_on for visit in visits_that_answer(seen_facts(incident))), None)


def clinic_has_seen(incident: Incident) -> bool:
    """Whether somebody at a clinic has seen the person about what is known now. Everybody asks here."""
    return first_seen_on(incident) is not None


def courses_meant(incident: Incident) -> list[Course]:
    """Its courses, running or ended, without those entered in error."""
    return [course for course in incident.courses.all() if course.end_kind != EndKind.ERROR]


def first_dose_on(incident: Incident) -> date | None:
    """When the first dose after this exposure was given, by the plans of its courses."""
    given = (dose.given_on for course in courses_meant(incident) for dose in course.planned_doses.all())
    return min((day for day in given if day is not None), default=None)


def immunoglobulin_missing(incident: Incident) -> Visit | None:
    """The last visit that had none available, unless a visit says that it was given, or that it isn't wanted."""
    visits: Sequence[Visit] = list(incident.visits.all())
    if any(visit.immunoglobulin == Immunoglobulin.GIVEN for visit in visits):
        return None
    said = [visit for visit in visits if visit.immunoglobulin != Immunoglobulin.UNKNOWN]
    return said[-1] if said and said[-1].immunoglobulin == Immunoglobulin.UNAVAILABLE else None


def immunoglobulin_too_late(incident: Incident, today: date) -> str:
    """What is said once the day has passed up to which tables give it; empty before, or where none is missing."""
    last_day = last_day_for(first_dose_on(incident))
    if last_day is None or last_day >= today or immunoglobulin_missing(incident) is None:
        return ""
    return _(
        "Immunoglobulin wasn't available, and day 7 after the first dose, %(day)s, has passed: tables give none "
        "after it. Ask the clinician, and write down what was said."
    ) % {"day": date_format(last_day, "DATE_FORMAT")}


def course_short(incident: Incident) -> Course | None:
    """The newest course when it ended as complete and lacks a dose by now: one was voided, and nobody reminds of it."""
    for course in courses_meant(incident)[:1]:
        missing = [dose for dose in course.planned_doses.all() if dose.given_on is None]
        if course.end_kind == EndKind.COMPLETED and missing and _voided_in(course):
            needed = len(course.regimen.as_rule().primary_steps) if course.regimen else missing[0].number
            return course if missing[0].number <= needed else None
    return None


def _voided_in(course: Course) -> bool:
    return Dose.everything.filter(course_key=course.key, voided_at__isnull=False).exists()


def observation_standing(incident: Incident) -> Observation | None:
    return next((one for one in incident.observations.all() if one.voided_at is None), None)
