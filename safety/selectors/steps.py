"""The steps a case still needs from the clinic: referral, visit, decision, immunoglobulin, course, doses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import Course, Decision, EndKind, Immunoglobulin, Incident, PlannedDose, Visit
from safety.rules.answer_doubts import date_disagrees
from safety.rules.immunoglobulin import last_day_for
from safety.selectors.course_titre import titre_missing
from staff.models import Dose

CLINIC_STEPS = frozenset({"referral", "visit", "decision", "course"})


@dataclass(frozen=True)
class NextStep:
    """Something a case still needs: a code, a sentence, the date it is due and whether that has passed."""

    code: str
    words: str
    due_on: date | None = None
    overdue: bool = False


def clinic_steps(incident: Incident, today: date) -> list[NextStep]:
    """Up to the course; `today` is the site's."""
    happened = incident.site.local_date(incident.happened_at)
    late = happened < today
    visits: Sequence[Visit] = list(incident.visits.all())
    if not visits:
        steps = []
        if not incident.referrals.all():
            words = _("Refer to a clinic: it is to be reached the same day.")
            steps.append(NextStep("referral", words, happened, late))
        return [*steps, NextStep("visit", _("No clinic visit is recorded yet."), happened, late)]
    step = _decision_step(incident, visits[-1])
    return ([step] if step else []) + _immunoglobulin_steps(incident, today)


def _decision_step(incident: Incident, last: Visit) -> NextStep | None:
    if last.decision == Decision.PENDING:
        words = _("The clinician's decision isn't recorded.")
        return NextStep("decision", words, last.visited_on, True)
    if last.decision == Decision.REFERRED_ON:
        words = _("Sent on to another clinic: record that visit.")
        return NextStep("visit", words, last.visited_on, True)
    if last.decision == Decision.COURSE and not courses_meant(incident):
        words = _("Record the course the clinician ordered.")
        return NextStep("course", words, last.visited_on, True)
    return None


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


def _immunoglobulin_steps(incident: Incident, today: date) -> list[NextStep]:
    if immunoglobulin_missing(incident) is None:
        return []
    last_day = last_day_for(first_dose_on(incident))
    if last_day is not None and last_day < today:
        return []
    words = _("Immunoglobulin wasn't available: ask the clinic again, or another clinic that has it.")
    return [NextStep("immunoglobulin", words, last_day, overdue=False)]


def immunoglobulin_too_late(incident: Incident, today: date) -> str:
    """What is said once the day has passed up to which tables give it; empty before, or where none is missing."""
    last_day = last_day_for(first_dose_on(incident))
    if last_day is None or last_day >= today or immunoglobulin_missing(incident) is None:
        return ""
    return _(
        "Immunoglobulin wasn't available, and day 7 after the first dose, %(day)s, has passed: tables give none "
        "after it. Ask the clinician, and write down what was said."
    ) % {"day": date_format(last_day, "DATE_FORMAT")}


def course_steps(course: Course, now: datetime) -> list[NextStep]:
    """The next dose of a running course by the calendar where it goes on, or that it can be ended as complete."""
    if course.planned_recorded is None:
        return [NextStep("plan", _("The dates of the doses are being computed."))]
    today, planned = course.local_date(now), list(course.planned_doses.all())
    following = next((dose for dose in planned if dose.given_on is None), None)
    if following is None:
        words = _("Every dose of the course is given: end it as complete.")
        return [NextStep("complete", words)] if planned else []
    words = _("Dose %(number)s of the course.") % {"number": following.number}
    step = NextStep("dose", words, following.due_on, following.due_on < today)
    return [*_date_steps(course, following, today), step]


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


def short_steps(incident: Incident) -> list[NextStep]:
    course = course_short(incident)
    if course is None:
        return []
    words = _(
        "A dose of the course that ended as complete was voided: take the course up again, and record what was given."
    )
    return [NextStep("resume", words, course.ended_on, overdue=True)]


def titre_steps(incident: Incident, today: date) -> list[NextStep]:
    """Blood to be taken after the course of somebody immunocompromised; `today` is the site's."""
    window = titre_missing(incident)
    if window is None:
        return []
    words = _(
        "Immunocompromised by the record: ask the clinician about a titre after the course, taken between"
        " %(first)s and %(last)s."
    ) % {
        "first": date_format(window.first_on, "DATE_FORMAT"),
        "last": date_format(window.last_on, "DATE_FORMAT"),
    }
    return [NextStep("titre", words, window.first_on, window.last_on < today)]


def _date_steps(course: Course, following: PlannedDose, today: date) -> list[NextStep]:
    """The clinic's own next date where the plan says another, until a dose after that visit is given."""
    stated = [visit for visit in course.incident.visits.all() if visit.next_on is not None]
    if not stated:
        return []
    visited_on, said = stated[-1].visited_on, stated[-1].next_on
    settled = any(
        dose.given_on is not None and dose.given_on > visited_on for dose in course.planned_doses.all()
    )
    if said is None or settled or not date_disagrees(said, following.due_on, following.latest_on):
        return []
    words = _("The dates differ: the clinic wrote %(said)s, the regimen gives %(due)s. Ring the clinic.") % {
        "said": date_format(said, "DATE_FORMAT"),
        "due": date_format(following.due_on, "DATE_FORMAT"),
    }
    return [NextStep("dates-differ", words, today)]
