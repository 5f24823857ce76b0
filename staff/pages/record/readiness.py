"""The board: who may go out on a date, who may not, why, and from when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from staff.doors.page import LEAD as LEAD_ROLE
from staff.doors.page import LIAISON as LIAISON_ROLE
from staff.doors.page import OFFICER as OFFICER_ROLE
from staff.doors.page import page, signed_in
from staff.doors.status import INVALID
from staff.forms.outing.board import CLEAR, LEFT, NOT_CLEAR, BoardForm
from staff.models import CrewRole, Person, Site, User
from staff.selectors.access import LEAD, LIAISON, OFFICER, has_role, sites_as
from staff.selectors.record.briefings import lacks_briefing
from staff.selectors.record.clear_from import ClearFrom, clear_from
from staff.selectors.record.readiness import Readiness, readiness
from staff.selectors.record.team import not_left
from staff.services.audit import audit_write


@dataclass(frozen=True)
class BoardRow:
    """`clear_from` is left out for whoever may not know why somebody isn't clear."""

    readiness: Readiness
    clear_from: ClearFrom | None


@page(OFFICER_ROLE, LIAISON_ROLE, LEAD_ROLE)
def board(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, OFFICER, LIAISON, LEAD)
    first = sites.first()
    usual = {"on": first.local_date(now).isoformat() if first else "", "site": first.pk if first else ""}
    form = BoardForm({**usual, **request.GET.dict()}, sites=sites)
    context: dict[str, Any] = {"form": form, "rows": []}
    if form.is_valid():
        context |= _board(user, form.cleaned_data, now)
    return render(request, "staff/readiness.html", context, status=200 if form.is_valid() else INVALID)


def _board(user: User, asked: dict[str, Any], now: datetime) -> dict[str, Any]:
    site, on = asked["site"], asked["on"]
    sees_why = has_role(user, site, OFFICER, LIAISON)
    everybody = readiness(_people(site, on, asked["role"], asked["state"]), on, [site])
    shown = [row for row in everybody if _wanted(row, asked["state"])]
    if sees_why and shown:
        audit_write(actor=user, action="board.seen", now=now, site=site, target=f"board:{on.isoformat()}")
    return {
        "site": site,
        "on": on,
        "sees_why": sees_why,
        "rows": _rows(shown, site.local_date(now)) if sees_why else [BoardRow(row, None) for row in shown],
        "to_brief": sum(lacks_briefing(row.reasons) for row in shown) if has_role(user, site, OFFICER) else 0,
        "clear": sum(row.clear for row in everybody),
        "not_clear": sum(not row.clear for row in everybody),
        "by_role": _by_role(everybody),
    }


def _people(site: Site, on: date, role: str, state: str) -> QuerySet[Person]:
    with_us = not_left(on)
    people = Person.objects.filter(~with_us if state == LEFT else with_us, site=site)
    return people.filter(crew_roles__role=role) if role else people


def _wanted(row: Readiness, state: str) -> bool:
    return not (state == CLEAR and not row.clear or state == NOT_CLEAR and row.clear)


def _rows(shown: Sequence[Readiness], today: date) -> list[BoardRow]:
    return [BoardRow(row, ahead) for row, ahead in zip(shown, clear_from(shown, today), strict=True)]


def _by_role(rows: Iterable[Readiness]) -> list[tuple[str, int]]:
    """How many are clear for each crew role."""
    clear = [{held.role for held in row.person.crew_roles.all()} for row in rows if row.clear]
    return [(str(role.label), sum(role in held for held in clear)) for role in CrewRole]
