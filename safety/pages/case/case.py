"""One case."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from safety.models import Incident, Notice
from safety.pages.case.parts.care import care_part
from safety.pages.case.parts.head import head_part
from safety.pages.notices.outbox import notice_row
from safety.selectors.case.cases import (
    incidents_followed_by,
    incidents_visible_to,
)
from safety.selectors.case.needs import needs_of
from staff.doors.page import LIAISON, MEMBER, OFFICER, page, signed_in
from staff.models import User
from staff.services.audit import audit_look


@never_cache
@page(OFFICER, LIAISON, MEMBER)
def case(request: HttpRequest, reference: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    incident = get_object_or_404(_cases_seen_by(user), reference=reference)
    audit_look(viewer=user, person=incident.person, now=now, target=incident.reference)
    follows = incidents_followed_by(user).filter(pk=incident.pk).exists()
    needs = needs_of(incident, now)
    context = head_part(incident, needs, user, now, follows=follows)
    context |= care_part(incident, needs, now, follows=follows) | _told(incident, now, follows=follows)
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


def _told(incident: Incident, now: datetime, *, follows: bool) -> dict[str, Any]:
    """The notices of the case, for whoever follows it."""
    rows = [notice_row(row, now) for row in incident.notices.select_related("site")] if follows else []
    return {
        "notices": [row for row in rows if row.notice.state != Notice.State.WITHDRAWN],
        "notice_failed": any(row.notice.state == Notice.State.FAILED for row in rows),
        "withdrawn": [row for row in rows if row.notice.state == Notice.State.WITHDRAWN],
    }
