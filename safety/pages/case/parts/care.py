"""The part of a case's page about care: washing, the clinic's side, the courses, the animal, what was voided."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import Decision, Incident, Observation, Referral, Visit
from safety.pages.animal.animal_words import animal_view
from safety.pages.case.washing import wash_clock
from safety.pages.clinic.clinic_choice import clinic_advice
from safety.pages.course.course_view import course_view
from safety.rules.case.needs import NeedCode
from safety.selectors.case.case_facts import immunoglobulin_too_late
from safety.selectors.case.cases import (
    courses_behind,
    needs_clinic,
)
from safety.selectors.case.need import Need
from staff.models import Voidable


def care_part(incident: Incident, needs: Sequence[Need], now: datetime, *, follows: bool) -> dict[str, Any]:
    """Washing, the clinic's side, the courses and the animal."""
    behind = set(courses_behind().filter(incident=incident).values_list("pk", flat=True))
    wants_clinic = any(need.code is NeedCode.VISIT for need in needs)
    return {
        "exposed": needs_clinic(incident),
        "wash": wash_clock(incident, now),
        "advice": clinic_advice(incident, now, by_record=True) if wants_clinic else None,
        "wants_clinic": wants_clinic,
        "courses": [course_view(course, now, behind, follows=follows) for course in incident.courses.all()],
        "animal": animal_view(incident, now),
        "immunoglobulin_late": immunoglobulin_too_late(incident, incident.site.local_date(now)),
        "voided": voided_of(incident) if follows else [],
        "may_start_course": _may_start_course(incident),
    }


def _may_start_course(incident: Incident) -> bool:
    ordered = any(visit.decision == Decision.COURSE for visit in incident.visits.all())
    return incident.is_open and ordered and not any(c.ended_on is None for c in incident.courses.all())


def voided_of(incident: Incident) -> list[str]:
    """Visits, referrals and observations entered in error, each with who voided it and why."""
    visits = Visit.everything.filter(incident=incident, voided_at__isnull=False)
    referrals = Referral.everything.filter(incident=incident, voided_at__isnull=False)
    rows = [
        (_("Visit of %(day)s at %(clinic)s"), visit.visited_on, visit)
        for visit in visits.select_related("clinic", "voided_by")
    ] + [
        (_("Referral of %(day)s to %(clinic)s"), incident.site.local_date(referral.referred_at), referral)
        for referral in referrals.select_related("clinic", "voided_by")
    ]
    return [
        _voided_words(words % {"day": date_format(day, "DATE_FORMAT"), "clinic": row.clinic}, row)
        for words, day, row in rows
    ] + [
        _voided_words(_("Observation of %(animal)s") % {"animal": row.described}, row)
        for row in Observation.everything.filter(incident=incident, voided_at__isnull=False).select_related(
            "voided_by"
        )
    ]


def _voided_words(what: str, row: Voidable) -> str:
    return f"{what}: " + _("voided by %(who)s, %(why)s") % {"who": row.voided_by, "why": row.void_reason}
