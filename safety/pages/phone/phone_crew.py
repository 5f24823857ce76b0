"""The crew a lead takes along on the phone. A card's link reads nothing about people, so this asks for the account."""

from __future__ import annotations

from dataclasses import asdict

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from safety.selectors.crew_day.crew_today import crew_today
from staff.doors.page import LEAD, MEMBER, page, signed_in
from staff.selectors.outing.outing_words import detail_rows


@require_safe
@page(LEAD, MEMBER)
def crew(request: HttpRequest) -> JsonResponse:
    """Names of today's crew and what it is told, for whoever leads it; empty lists for anybody else."""
    found = crew_today(signed_in(request), timezone.now())
    return JsonResponse(
        {
            "date": found.date.isoformat(),
            "ends_at": found.ends_at.isoformat(),
            "area": found.area,
            "outing": found.outing,
            "people": [{"id": pk, "name": name} for pk, name in found.people],
            "outings": [
                {"area": outing.area, "rows": [asdict(row) for row in detail_rows(outing)]}
                for outing in found.outings
            ],
        }
    )
