"""The regimen table: steps, sources, approvals, and trying dates on it. Nothing tried here is kept."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.doors.page import ANYONE, page, signed_in
from staff.doors.status import INVALID
from staff.forms.regimen.regimens import TryForm
from staff.models import LateRuleChoice, Purpose, Regimen, Site, User
from staff.pages.record.timeline import NARROW, WIDE
from staff.pages.regimen.regimen_drawing import draw_trial
from staff.rules.record.series import evaluate_series
from staff.rules.regimen.schedule import plan_schedule
from staff.rules.regimen.values import DoseFact, LateRule, Route, RuleError
from staff.selectors.access import Role, sites_as, sites_of
from staff.selectors.regimen.regimens import (
    drafted_near,
    had_a_hand_in,
    may_retire,
    regimen_version,
    regimens_visible_to,
)
from staff.words import dose_words


@page(ANYONE)
def regimens(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    sites = set(sites_of(user).values_list("pk", flat=True))
    rows = [(row, _approved(row, sites)) for row in regimens_visible_to(user).order_by("code", "version")]
    groups = [
        (label, [(row, approved) for row, approved in rows if row.purpose == code])
        for code, label in Purpose.choices
    ]
    return render(request, "staff/regimens.html", {"groups": [group for group in groups if group[1]]})


@page(ANYONE)
def regimen(request: HttpRequest, code: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = version_seen_by(user, code, request.GET.get("version", ""))
    site = sites_of(user).first()
    form = _try_form(request, row, site, now)
    context = _version(user, row) | {"form": form, "site": site}
    if form.is_bound and form.is_valid():
        context |= _try(row, form)
    return render(request, "staff/regimen.html", context, status=INVALID if form.errors else 200)


def _try_form(request: HttpRequest, row: Regimen, site: Site | None, now: datetime) -> TryForm:
    today = (site.local_date(now) if site else now.date()).isoformat()
    usual = {"on": today, "late_rule": site.rules.late_rule if site else LateRuleChoice.KEEP_GAPS}
    asked = {**usual, **request.GET.dict()} if "dose_1" in request.GET else None
    return TryForm(asked, steps=len(row.steps.all()), initial=usual)


def _version(user: User, row: Regimen) -> dict[str, Any]:
    """One version, and what this officer may do with it."""
    sites, officer_of = set(sites_of(user)), set(sites_as(user, Role.OFFICER))
    had_a_hand, open_to_approval = had_a_hand_in(user, row), row.state in ("submitted", "listed")
    return {
        "regimen": row,
        "versions": regimens_visible_to(user).filter(code=row.code).order_by("version"),
        "approvals": [one for one in row.approvals.all() if one.site in sites],
        "may_change": bool(officer_of),
        "may_approve": bool(officer_of) and open_to_approval and not had_a_hand,
        "drafted_near": drafted_near(user, row),
        "may_retire": may_retire(user, row),
        "had_a_hand": had_a_hand and open_to_approval,
        "managed": officer_of,
    }


def version_seen_by(user: User, code: str, version: str) -> Regimen:
    """The version of that number, or without one the version in use; 404 for what `user` may not see."""
    row = regimen_version(user, code, int(version[:4]) if version.isdecimal() else None)
    if row is None:
        raise Http404
    return row


def _approved(row: Regimen, sites: set[int]) -> list[str]:
    standing = [one for one in row.approvals.all() if one.withdrawn_at is None and one.site_id in sites]
    return sorted(one.site.name for one in standing)


def _try(row: Regimen, form: TryForm) -> dict[str, Any]:
    rule, data, days = row.as_rule(), form.cleaned_data, form.days()
    route = Route(data["route"]) if data["route"] else None
    doses = [DoseFact(given_on=day, route=route, purpose=rule.purpose) for day in days]
    series = evaluate_series(regimen=rule, doses=doses, on=data["on"])
    result: dict[str, Any] = {
        "series": series,
        "lines": [(one, dose_words(one)) for one in series.doses],
    }
    try:
        result["schedule"] = plan_schedule(
            regimen=rule,
            day_zero=days[0] if days else data["on"],
            given=days,
            late_rule=LateRule(data["late_rule"] or LateRule.KEEP_GAPS),
            restart_after_days=data["restart_after_days"],
        )
    except RuleError as error:
        # The days are sorted, so the only question left unanswered is after how long to start again.
        if error.code != "restart-days-needed":
            raise
        form.add_error("restart_after_days", _("Say after how many days late it starts again, 1 or more."))
    planned = result.get("schedule")
    result["drawings"] = [draw_trial(series.doses, planned, data["on"], sheet) for sheet in (WIDE, NARROW)]
    return result
