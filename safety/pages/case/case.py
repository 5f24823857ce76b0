"""One case, and the list of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.letter.facts import letter_facts
from safety.letter.words import urgency_words
from safety.models import Decision, Incident, Notice, Observation, Referral, Visit
from safety.pages.animal.animal_words import animal_view
from safety.pages.case.remarks import case_remarks, record_words, reporter_words
from safety.pages.case.step_links import need_url
from safety.pages.case.washing import wash_clock
from safety.pages.clinic.clinic_choice import clinic_advice
from safety.pages.course.course_view import course_view
from safety.pages.notices.outbox import notice_row
from safety.rules.case.needs import NeedCode
from safety.selectors.case.case_facts import immunoglobulin_too_late
from safety.selectors.case.cases import (
    courses_behind,
    incidents_followed_by,
    incidents_of_same_day,
    incidents_visible_to,
    needs_clinic,
    suggestion_of,
)
from safety.selectors.case.need import Need
from safety.selectors.case.needs import needs_of
from safety.selectors.case.urgency import urgency_of
from safety.selectors.phone.phone import messages_of
from safety.words import case_state, category_reasons, category_word, cause_words
from staff.doors.page import LIAISON, MEMBER, OFFICER, page, signed_in
from staff.models import User, Voidable
from staff.selectors.access import OFFICER as OFFICER_ROLE
from staff.selectors.access import holds
from staff.services.audit import audit_look


@dataclass(frozen=True)
class NeedLink:
    need: Need
    url: str


@never_cache
@page(OFFICER, LIAISON, MEMBER)
def case(request: HttpRequest, reference: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    incident = get_object_or_404(_cases_seen_by(user), reference=reference)
    audit_look(viewer=user, person=incident.person, now=now, target=incident.reference)
    follows = incidents_followed_by(user).filter(pk=incident.pk).exists()
    needs = needs_of(incident, now)
    context = _head(incident, needs, user, now, follows=follows)
    context |= _care(incident, needs, now, follows=follows) | _told(incident, now, follows=follows)
    return render(request, "safety/case.html", context)


def _cases_seen_by(user: User) -> QuerySet[Incident]:
    return incidents_visible_to(user).prefetch_related(
        "courses__planned_doses",
        "courses__regimen__steps",
        "courses__clinic",
        "observations__checks",
        "observations__outcomes",
        "person__titres",
    )


def _head(
    incident: Incident, needs: Sequence[Need], user: User, now: datetime, *, follows: bool
) -> dict[str, Any]:
    """Whose case it is, what happened, and what it needs."""
    suggestion = suggestion_of(incident)
    return {
        "incident": incident,
        "site": incident.site,
        "follows": follows,
        "own": incident.person.user_id == user.pk,
        "category": category_word(suggestion),
        "category_reasons": category_reasons(suggestion),
        "urgency": urgency_line(incident),
        "causes": cause_words(incident),
        "reporter": reporter_words(incident),
        "remarks": case_remarks(incident, now),
        "record": record_words(letter_facts(incident, None, now)),
        "same_day": incidents_of_same_day(user, incident),
        "phone_messages": messages_of(incident) if holds(user, incident.site, OFFICER_ROLE) else [],
        "state": case_state(incident, late=any(need.late for need in needs)),
        "needs": [NeedLink(need, need_url(incident, need, user)) for need in needs],
    }


def _care(incident: Incident, needs: Sequence[Need], now: datetime, *, follows: bool) -> dict[str, Any]:
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


def _told(incident: Incident, now: datetime, *, follows: bool) -> dict[str, Any]:
    """The notices of the case, for whoever follows it."""
    rows = [notice_row(row, now) for row in incident.notices.select_related("site")] if follows else []
    return {
        "notices": [row for row in rows if row.notice.state != Notice.State.WITHDRAWN],
        "notice_failed": any(row.notice.state == Notice.State.FAILED for row in rows),
        "withdrawn": [row for row in rows if row.notice.state == Notice.State.WITHDRAWN],
    }


def urgency_line(incident: Incident) -> str:
    """What raises the urgency, in words; nothing where nothing calls for a clinic."""
    reasons = urgency_of(incident)
    return "" if reasons is None else urgency_words(reasons)


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
