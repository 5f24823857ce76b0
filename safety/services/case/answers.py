"""The clinic's answer strip typed in: visit, decision, course and first dose, kept together or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Invalid, Unconfirmed
from safety.models import Clinic, Course, Decision, Immunoglobulin, Incident, Visit
from safety.rules.case.answer_doubts import date_disagrees
from safety.selectors.case.cases import doses_of
from safety.selectors.course.schedules import compute_schedule
from safety.services.case.immunoglobulin import Gift, at_visit, gift_doubts
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start
from safety.services.course.course_checks import regimen_doubt
from safety.services.course.course_doses import course_dose_record
from staff.ground.transactions import retried
from staff.models import Dose, Regimen, User


@dataclass(frozen=True)
class Strip:
    """What stands on the strip, in its order; what the clinic left empty is None or empty.

    `confirmed`: what disagrees with the record was asked back, and the clinic's paper says so.
    """

    clinic: Clinic
    visited_on: date
    decision: str
    regimen: Regimen | None = None
    given_on: date | None = None
    immunoglobulin: str = Immunoglobulin.UNKNOWN
    immunoglobulin_on: date | None = None
    immunoglobulin_amount: str = ""
    next_on: date | None = None
    clinician: str = ""
    confirmed: bool = False

    @property
    def gift(self) -> Gift:
        return Gift(self.immunoglobulin, self.immunoglobulin_on, self.immunoglobulin_amount)


@retried
def answer_record(*, actor: User, incident: Incident, strip: Strip, now: datetime) -> Visit:
    """Record everything on the strip in one transaction.

    The next date is kept as the clinic wrote it: the dates that are reminded of follow from the regimen. Raises
    `Invalid` naming fields, `Unconfirmed` for what disagrees with the record and isn't confirmed, and whatever refuses
    the visit, the course or the dose.
    """
    _check(strip)
    doubts = _doubts(incident, strip, now)
    with transaction.atomic():
        visit = visit_record(
            actor=actor,
            incident=incident,
            clinic=strip.clinic,
            visited_on=strip.visited_on,
            decision=strip.decision,
            clinician=strip.clinician,
            immunoglobulin=strip.immunoglobulin,
            immunoglobulin_on=strip.immunoglobulin_on,
            immunoglobulin_amount=strip.immunoglobulin_amount,
            # Everything was asked back at once; here it is only kept.
            confirmed=True,
            note=" ".join([_("The clinic's paper says so."), *doubts.values()]) if doubts else "",
            next_on=strip.next_on,
            now=now,
        )
        if strip.regimen is not None:
            course = course_start(
                actor=actor,
                incident=incident,
                regimen=strip.regimen,
                starts_on=strip.given_on or strip.visited_on,
                confirmed=True,
                now=now,
            )
            if strip.given_on is not None:
                course_dose_record(
                    actor=actor, course=course, given_on=strip.given_on, place=strip.clinic.name, now=now
                )
        # Last, so that what is plainly wrong is named first; nothing of the answer is kept then.
        if doubts and not strip.confirmed:
            raise Unconfirmed(doubts | {"confirmed": _("Look at the paper again, or ring the clinic.")})
    return visit


def _doubts(incident: Incident, strip: Strip, now: datetime) -> dict[str, str]:
    """What disagrees with the record as the letter stated it, or with the regimen's own dates."""
    found: dict[str, str] = {}
    if strip.regimen is not None and (words := regimen_doubt(incident, strip.regimen, now)):
        found["regimen"] = words
    if doubts := gift_doubts(
        incident, at_visit(strip.gift, strip.visited_on), now=now, first_dose_on=strip.given_on
    ):
        found["immunoglobulin"] = " ".join(doubts)
    if strip.next_on is not None and strip.decision == Decision.COURSE:
        words = _date_doubt(incident, strip, strip.next_on)
        found |= {"next_on": words} if words else {}
    return found


def _date_doubt(incident: Incident, strip: Strip, said: date) -> str:
    """What is wrong with the next date by the regimen of the strip, or by the course that runs already."""
    rules, given = incident.site.rules, []
    if strip.regimen is not None:
        course: Course | None = Course(
            regimen=strip.regimen,
            late_rule=rules.late_rule,
            restart_after_days=rules.restart_after_days,
            starts_on=strip.given_on or strip.visited_on,
        )
        given = [Dose(given_on=strip.given_on)] if strip.given_on else []
    else:
        course = incident.courses.filter(ended_on__isnull=True).select_related("regimen").first()
        given = list(doses_of(course)) if course else []
    if course is None:
        return ""
    step = next((step for step in compute_schedule(course, given).steps if step.given_on is None), None)
    if step is None:
        return _("By the regimen no further dose follows.")
    if not date_disagrees(said, step.due_on, step.latest_on):
        return ""
    return _("By the regimen dose %(number)d is due on %(day)s.") % {
        "number": step.number,
        "day": date_format(step.due_on, "DATE_FORMAT"),
    }


def _check(strip: Strip) -> None:
    """Answers that contradict each other are asked about, not guessed at."""
    wrong: dict[str, str] = {}
    if strip.regimen is not None and strip.decision != Decision.COURSE:
        wrong["regimen"] = _("A regimen goes with the decision for a course; check both answers.")
    if strip.given_on is not None and strip.regimen is None:
        wrong["regimen"] = _(
            "A dose was given: choose the regimen it belongs to, as the clinician ordered it."
        )
    if strip.given_on is not None and strip.given_on < strip.visited_on:
        wrong["given_on"] = _("The first dose lies before the visit; check both dates.")
    if strip.next_on is not None and strip.next_on <= strip.visited_on:
        wrong["next_on"] = _("The next date must lie after the visit; check both dates.")
    if wrong:
        raise Invalid(wrong)
