"""Changing a site's plan of notices: what it would do is shown before it is made."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.notices.site_plan import PlanReasonForm
from safety.models import PlanSubject
from safety.pages.notices.plan_preview import Asked, plan_asked
from safety.rules.notices.follow_up import Subject
from safety.services.notices.site_plan import site_plan_set
from staff.doors.form import After, Outcome, attempt, told
from staff.doors.page import OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.models import User
from staff.selectors.access import Role, sites_as


@page(OFFICER)
def site_plan_subject(request: HttpRequest, code: str, what: str) -> HttpResponse:
    """Rows added, changed and taken out on one form; shown what it does, then confirmed with a reason."""
    user = signed_in(request)
    site = get_object_or_404(sites_as(user, Role.OFFICER), code=code)
    if what not in PlanSubject.values:
        raise Http404
    asked = plan_asked(request, site, Subject(what), timezone.now())
    reason, outcome = PlanReasonForm(request.POST if "confirmed" in request.POST else None), Outcome[None]()
    # Only what was shown is changed: rows edited after the preview are previewed first.
    if asked.holds and "confirmed" in request.POST and request.POST.get("previewed") == asked.mark:
        outcome = attempt(
            request, reason, lambda said: _change(user, asked, said["reason"], request.POST.get("seen", ""))
        )
    if outcome.kept:
        return told(request, outcome, _changed(code))
    status = outcome.status if asked.holds or request.method != "POST" else INVALID
    context = {"site": site, "what": what, "reason_form": reason, **asked.shown(request)}
    return render(request, "safety/site_plan_subject.html", context, status=status)


def _changed(code: str) -> After:
    return After(
        back=reverse("site-plan", args=[code]), done=_("The plan holds from now on; what waits follows it.")
    )


def _change(user: User, asked: Asked, reason: str, seen: str) -> None:
    site_plan_set(
        actor=user,
        site=asked.site,
        what=asked.subject,
        rows=asked.rows or [],
        reason=reason,
        seen=seen,
        now=asked.now,
    )
