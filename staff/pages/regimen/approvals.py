"""An authority's approval of a regimen at a site, and its withdrawal: what it would do is shown before it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.doors.form import Outcome, Step, attempt, told
from staff.doors.page import OFFICER, page, signed_in
from staff.forms.regimen.regimens import ApproveForm, WhyForm
from staff.ground.errors import Invalid
from staff.models import Regimen, RegimenApproval, Site
from staff.pages.regimen.regimens import version_seen_by
from staff.selectors.access import Role, sites_as
from staff.selectors.regimen.regimens import approvals_managed_by
from staff.selectors.site.rules_preview import DayPreview, approval_preview, change_made, withdrawn_by
from staff.services.regimen.approvals import regimen_approve, regimen_withdraw


@page(OFFICER)
def regimen_approval(request: HttpRequest, code: str, version: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = version_seen_by(user, code, str(version))
    sites = sites_as(user, Role.OFFICER)
    first = sites.first()
    initial = {"site": first, "authority": first.authority if first else ""}
    form = ApproveForm(request.POST or None, sites=sites, initial=initial)
    days = _preview(form, first, now, lambda site, today: approval_preview(site, row, today, approved=True))
    act = partial(regimen_approve, actor=user, regimen=row, now=now)
    step = replace(_approval_step(row, first), then=lambda made: _then(made.site, row, now))
    return _previewed(request, form, days, lambda said: act(**_with_reason(said, days)), step)


def _with_reason(said: dict[str, Any], days: Sequence[DayPreview]) -> dict[str, Any]:
    if any(day.lose for day in days) and not said["reason"].strip():
        raise Invalid({"reason": _("Somebody loses clearance by this; say why it is done all the same.")})
    return said


def _approval_step(row: Regimen, site: Site | None) -> Step:
    return Step(
        title=_("Note the approval of %(regimen)s") % {"regimen": row},
        submit=_("Note the approval"),
        back=_address(row),
        done=_("The approval is noted; the site's people are being recomputed."),
        before=(
            _(
                "Enter only what the health authority has decided. From then on doses are judged by these steps."
            ),
        ),
        site=site,
    )


@page(OFFICER)
def approval_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, form = signed_in(request), timezone.now(), WhyForm(request.POST or None)
    row = get_object_or_404(approvals_managed_by(user), pk=pk)
    days = _preview(
        form,
        row.site,
        now,
        lambda _site, today: approval_preview(row.site, row.regimen, today, approved=False),
    )
    act = partial(regimen_withdraw, actor=user, approval=row, now=now)
    step = replace(_withdrawal_step(row), then=lambda _made: _then(row.site, row.regimen, now))
    return _previewed(request, form, days, lambda said: act(**said), step)


def _withdrawal_step(row: RegimenApproval) -> Step:
    about = {"regimen": row.regimen, "site": row.site}
    return Step(
        title=_("Withdraw the approval of %(regimen)s at %(site)s") % about,
        submit=_("Withdraw it"),
        back=_address(row.regimen),
        done=_("The approval is withdrawn; the site's people are being recomputed."),
        before=(
            _(
                "No new course starts on it, and people whose series rests on it may lose their clearance. "
                "A course that runs stays on its version."
            ),
        ),
        site=row.site,
    )


def _address(row: Regimen) -> str:
    return f"{reverse('regimen', args=[row.code])}?version={row.version}"


def _then(site: Site, row: Regimen, now: datetime) -> str:
    """To the page that names who was taken off which outing by it; to the version where nobody was."""
    change = change_made(site, now)
    return reverse("rules-change", args=[site.code, change.pk]) if withdrawn_by(change) else _address(row)


def _asked_site(form: forms.Form, usual: Site | None) -> Site | None:
    return (form.cleaned_data.get("site") or usual) if form.is_valid() else None


def _preview(
    form: forms.Form, usual: Site | None, now: datetime, preview: Callable[[Site, date], list[DayPreview]]
) -> list[DayPreview]:
    """What valid data would do, day by day."""
    site = _asked_site(form, usual)
    return preview(site, site.local_date(now)) if site else []


def _previewed(
    request: HttpRequest,
    form: forms.Form,
    days: Sequence[DayPreview],
    act: Callable[[dict[str, Any]], object],
    step: Step,
) -> HttpResponse:
    """Valid data are previewed first, then done by the same post with `confirmed`; what concerns nobody's
    clearance at once. What was shown is what is done: another site's figures are previewed again."""
    site = _asked_site(form, step.site)
    mark = site.code if site else ""
    seen = "confirmed" in request.POST and request.POST.get("previewed") == mark
    outcome = Outcome[object]() if days and not seen else attempt(request, form, act)
    if outcome.kept:
        return told(request, outcome, step)
    loses = any(day.lose for day in days)
    context = {"form": form, "step": step, "days": days, "mark": mark, "loses": loses}
    return render(request, "staff/approval.html", context, status=outcome.status)
