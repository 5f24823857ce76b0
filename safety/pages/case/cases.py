"""The list of cases, the most urgent first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from safety.models import Incident
from safety.selectors.case.cases import (
    incidents_listed_for,
    suggestion_of,
)
from safety.selectors.case.need import Need
from safety.selectors.case.needs import needs_of
from safety.words import State, case_state, category_word
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.services.audit import audit_write

PAGE_SIZE = 50


@dataclass(frozen=True)
class CaseRow:
    incident: Incident
    category: str
    needs: tuple[Need, ...]
    state: State
    happened_at: datetime


@never_cache
@page(OFFICER, LIAISON)
def cases(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    show = request.GET.get("show", "open")
    listed = incidents_listed_for(user)
    leaf = Paginator(_in_order(listed, show, now), PAGE_SIZE).get_page(request.GET.get("page"))
    found = listed.in_bulk(leaf.object_list)
    rows = [_row(found[pk], now) for pk in leaf]
    for site in {row.incident.site for row in rows}:
        audit_write(actor=user, action="board.seen", now=now, site=site, target="cases")
    return render(request, "safety/cases.html", {"rows": rows, "leaf": leaf, "show": show})


def _in_order(listed: QuerySet[Incident], show: str, now: datetime) -> list[int]:
    """The ids: what is late first, then what needs somebody today, the rest, and what is closed last."""
    running, closed = (listed.filter(closed_at__isnull=is_open) for is_open in (True, False))
    by_haste = [] if show == "closed" else sorted(running, key=lambda incident: _haste(incident, now))
    return [one.pk for one in by_haste] + (
        [] if show == "open" else list(closed.values_list("pk", flat=True))
    )


def _haste(incident: Incident, now: datetime) -> tuple[int, date]:
    """A key to sort by: smaller is more urgent; among equals the newest stays first."""
    needs, today = needs_of(incident, now), incident.site.local_date(now)
    soonest = min((need.due_on for need in needs if need.due_on), default=date.max)
    return (0 if any(need.late for need in needs) else 1 if soonest <= today else 2), soonest


def _row(incident: Incident, now: datetime) -> CaseRow:
    needs = needs_of(incident, now)
    return CaseRow(
        incident=incident,
        category=category_word(suggestion_of(incident)),
        needs=needs,
        state=case_state(incident, late=any(need.late for need in needs)),
        happened_at=incident.happened_at.astimezone(incident.site.zone),
    )
