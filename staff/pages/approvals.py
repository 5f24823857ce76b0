"""An authority's approval of a regimen at a site, and its withdrawal: what it would do is shown before it is done."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.errors import Invalid
from staff.forms.regimens import ApproveForm, WhyForm
from staff.models import Regimen, Site
from staff.doors.form import MENDABLE, attempt
from staff.doors.page import OFFICER, page, signed_in
from staff.pages.regimens import version_seen_by
from staff.selectors.access import Role, sites_as
from staff.selectors.regimens import approvals_managed_by
from staff.selectors.rules_preview import DayPreview, approval_preview
from staff.services.regimens import regimen_approve, regimen_withdraw


@page(OFFICER)
def regimen_approval(request: HttpRequest, code: str, version: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = version_seen_by(user, code, str(version))
    sites = sites_as(user, Role.OFFICER)
    first = sites.first()
    initial = {"site": first, "authority": first.authority if first else ""}

    def act(data: dict[str, Any], days: list[DayPreview]) -> None:
        if any(day.lose for day in days) and not data["reason"].strip():
            raise Invalid({"reason": _("Somebody loses clearance by this; say why it is done all the same.")})
        regimen_approve(actor=user, regimen=row, now=now, **data)

    return _previewed(
        request,
        ApproveForm(request.POST or None, sites=sites, initial=initial),
        lambda site, today: approval_preview(site, row, today, approved=True),
        act,
        row=row,
        title=_("Note the approval of %(regimen)s") % {"regimen": row},
        submit=_("Note the approval"),
        done=_("The approval is noted; the site's people are being recomputed."),
        intro=_(
            "Enter only what the health authority has decided. From then on doses are judged by these steps."
        ),
        caution_site=first,
    )


@page(OFFICER)
def approval_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    row = get_object_or_404(approvals_managed_by(user), pk=pk)
    return _previewed(
        request,
        WhyForm(request.POST or None),
        lambda _site, today: approval_preview(row.site, row.regimen, today, approved=False),
        lambda data, _days: regimen_withdraw(actor=user, approval=row, now=timezone.now(), **data),
        row=row.regimen,
        title=_("Withdraw the approval of %(regimen)s at %(site)s")
        % {"regimen": row.regimen, "site": row.site},
        submit=_("Withdraw it"),
        done=_("The approval is withdrawn; the site's people are being recomputed."),
        intro=_(
            "No new course starts on it, and people whose series rests on it may lose their clearance. "
            "A course that runs stays on its version."
        ),
        caution_site=row.site,
    )


def _previewed(
    request: HttpRequest,
    form: forms.Form,
    preview: Callable[[Site, date], list[DayPreview]],
    act: Callable[[dict[str, Any], list[DayPreview]], object],
    *,
    row: Regimen,
    done: str,
    **context: Any,
) -> HttpResponse:
    """Valid data are previewed first, then done by the same post with `confirmed`; what concerns nobody's
    clearance at once. What was shown is what is done: another site's figures are previewed again."""
    back = f"{reverse('regimen', args=[row.code])}?version={row.version}"
    status, days, mark = 200, [], ""
    if request.method == "POST":
        status = MENDABLE
        if form.is_valid():
            site = form.cleaned_data.get("site") or context["caution_site"]
            days, mark = preview(site, site.local_date(timezone.now())), site.code
            seen = "confirmed" in request.POST and request.POST.get("previewed") == mark
            status = attempt(form, lambda data: act(data, days)) if seen or not days else 200
            if not status:
                messages.success(request, done)
                return redirect(back)
    loses = any(day.lose for day in days)
    context |= {"form": form, "back": back, "days": days, "mark": mark, "loses": loses}
    return render(request, "staff/approval.html", context, status=status)
