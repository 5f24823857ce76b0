"""A site's plan of notices: what is told when and to whom, and what a change would do before it is made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from safety.forms.site_plan import PlanReasonForm, PlanRows, initial_of
from safety.models import PlanSubject
from safety.rules.follow_up import DEFAULT_PLAN, PlanRow, Subject
from safety.rules.site_plan import about, breaks
from safety.selectors.coming import plan_difference
from safety.selectors.plans import own_rows, plan_of, rows_mark
from safety.services.site_plan import site_plan_set
from safety.words import AUDIENCES, NOTICE_KINDS, break_words, day_words, hour_words
from staff.models import Site
from staff.doors.form import attempt
from staff.doors.page import OFFICER, page, signed_in
from staff.selectors.access import Role, sites_as


@dataclass(frozen=True)
class SubjectPlan:
    """`own`: the site has rows of its own; `broken`: they don't hold, and the shipped ones do."""

    what: str
    title: str
    rows: list[tuple[str, str, str]]
    own: bool
    broken: list[str]


def _told(rows: Sequence[PlanRow]) -> list[tuple[str, str, str]]:
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
    return SubjectPlan(what, str(PlanSubject(what).label), _told(rows), bool(own), broken)


@page(OFFICER)
def site_plan_subject(request: HttpRequest, code: str, what: str) -> HttpResponse:
    """Rows added, changed and taken out on one form; shown what it does, then confirmed with a reason."""
    site = get_object_or_404(sites_as(signed_in(request), Role.OFFICER), code=code)
    if what not in PlanSubject.values:
        raise Http404
    subject, now = Subject(what), timezone.now()
    own = own_rows(site, subject)
    standing = own or about(plan_of(site), subject)
    shipped = "shipped" in request.POST
    entered = request.POST if request.method == "POST" and not shipped else None
    form = PlanRows(entered, initial=initial_of(standing))
    reason = PlanReasonForm(request.POST if "confirmed" in request.POST else None)
    context: dict[str, Any] = {"site": site, "title": str(PlanSubject(what).label), "what": what, "own": own}
    context |= {"form": form, "reason_form": reason, "mark": request.POST.get("seen", rows_mark(own))}
    status = 200
    if request.method == "POST":
        rows = _asked(request, form, subject)
        faults = _faults(rows, subject, shipped=shipped)
        status = 400 if faults or rows is None else 200
        context["faults"] = faults
        if rows is not None and not faults:
            context |= _preview(site, subject, rows, now, shipped=shipped)
            # Only what was shown is changed: rows edited after the preview are previewed first.
            if "confirmed" in request.POST and request.POST.get("previewed") == rows_mark(rows):
                status = attempt(reason, lambda data: _change(request, site, subject, rows, data, now))
                if not status:
                    messages.success(request, _("The plan holds from now on; what waits follows it."))
                    return redirect("site-plan", code=code)
    return render(request, "safety/site_plan_subject.html", context, status=status)


def _asked(request: HttpRequest, form: Any, subject: Subject) -> list[PlanRow] | None:
    """The rows asked for; None while the form has errors. Back to the shipped plan: none of one's own."""
    if "shipped" in request.POST:
        return []
    return form.rows(subject) if form.is_valid() else None


def _faults(rows: Sequence[PlanRow] | None, subject: Subject, *, shipped: bool) -> list[str]:
    if rows is None or shipped:
        return []
    return [break_words(fault, audience) for fault, audience in breaks(rows, subject)]


def _change(
    request: HttpRequest,
    site: Site,
    subject: Subject,
    rows: Sequence[PlanRow],
    data: dict[str, Any],
    now: datetime,
) -> None:
    site_plan_set(
        actor=signed_in(request),
        site=site,
        what=subject,
        rows=rows,
        reason=data["reason"],
        seen=request.POST.get("seen", ""),
        now=now,
    )


def _preview(
    site: Site, subject: Subject, rows: Sequence[PlanRow], now: datetime, *, shipped: bool
) -> dict[str, Any]:
    others = [row for row in plan_of(site) if row.what != subject]
    mine = rows or about(DEFAULT_PLAN, subject)
    change = plan_difference(site, [*others, *mine], now)
    return {
        "asked": _told(mine),
        "shipped": shipped,
        "previewed": rows_mark(rows),
        "differences": [
            (sign, row, NOTICE_KINDS.get(row.kind, row.kind), AUDIENCES.get(row.audience, row.audience))
            for sign, found in (("+", change.more), ("−", change.fewer))
            for row in found
        ],
    }
