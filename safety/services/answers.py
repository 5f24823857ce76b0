"""The clinic's answer strip typed in: visit, decision, course and first dose, kept together or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Invalid
from safety.models import Answer, Clinic, Decision, Incident, Visit
from safety.services.case import course_dose_record, course_start, visit_record
from staff.models import Regimen, User
from staff.services.transactions import retried


@dataclass(frozen=True)
class Strip:
    """What stands on the strip, in its order; what the clinic left empty is None or empty."""

    clinic: Clinic
    visited_on: date
    decision: str
    regimen: Regimen | None = None
    given_on: date | None = None
    immunoglobulin: str = Answer.UNKNOWN
    next_on: date | None = None
    clinician: str = ""


@retried
def answer_record(*, actor: User, incident: Incident, strip: Strip, now: datetime) -> Visit:
    """Record everything on the strip in one transaction.

    The next date is kept as the clinic wrote it, in the visit's note: the dates that are reminded of follow from
    the regimen. Raises `Invalid` naming fields, and whatever refuses the visit, the course or the dose.
    """
    _check(strip)
    with transaction.atomic():
        visit = visit_record(
            actor=actor,
            incident=incident,
            clinic=strip.clinic,
            visited_on=strip.visited_on,
            decision=strip.decision,
            clinician=strip.clinician,
            immunoglobulin=strip.immunoglobulin,
            note=_next_note(strip.next_on),
            now=now,
        )
        if strip.regimen is not None:
            course = course_start(
                actor=actor,
                incident=incident,
                regimen=strip.regimen,
                starts_on=strip.given_on or strip.visited_on,
                now=now,
            )
            if strip.given_on is not None:
                course_dose_record(
                    actor=actor, course=course, given_on=strip.given_on, place=strip.clinic.name, now=now
                )
    return visit


def _next_note(day: date | None) -> str:
    return (
        _("Next date on the answer strip: %(day)s.") % {"day": date_format(day, "DATE_FORMAT")} if day else ""
    )


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
