"""A site's plan of notices: what is told when and to whom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from safety.models import PlanSubject
from safety.rules.notices.follow_up import PlanRow, Subject
from safety.rules.notices.site_plan import about, breaks
from safety.selectors.notices.plans import own_rows, plan_of
from safety.words import AUDIENCES, break_words, day_words, hour_words
from staff.doors.page import OFFICER, page, signed_in
from staff.models import Site
from staff.selectors.access import Role, sites_as


@dataclass(frozen=True)
class SubjectPlan:
    """`own`: the site has rows of its own; `broken`: they don't hold, and the shipped ones do."""

    what: str
    title: str
    rows: list[tuple[str, str, str]]
    own: bool
    broken: list[str]


def rows_told(rows: Sequence[PlanRow]) -> list[tuple[str, str, str]]:
    return [
        (day_words(row), hour_words(row), ", ".join(str(AUDIENCES[audience]) for audience in row.audiences))
        for row in sorted(rows, key=lambda row: row.offset_days)
    ]


@require_safe
@page(OFFICER)
def site_plan(request: HttpRequest, code: str) -> HttpResponse:
    site = get_object_or_404(sites_as(signed_in(request), Role.OFFICER), code=code)
    holds = plan_of(site)
    subjects = [_subject(site, what, about(holds, what)) for what in Subject]
    return render(request, "safety/site_plan.html", {"site": site, "subjects": subjects})


def _subject(site: Site, what: Subject, rows: Sequence[PlanRow]) -> SubjectPlan:
    own = own_rows(site, what)
    broken = [break_words(fault, audience) for fault, audience in breaks(own, what)] if own else []
    return SubjectPlan(what, str(PlanSubject(what).label), rows_told(rows), bool(own), broken)
