"""One outing's roster: who is on it, and putting people on and taking them off."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from staff.doors.form import After, Step, attempt, form_page, told
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.forms.outing.outings import AssignForm, WithdrawForm
from staff.models import Assignment, CrewRole, Outing, User
from staff.pages.outing.assigning import assigning
from staff.pages.outing.roster_days import roster_query
from staff.selectors.access import Role, has_role, outings_managed_by, outings_visible_to
from staff.selectors.campaign.community import community_state
from staff.selectors.outing.roster import crews_of
from staff.services.outing.roster import roster_assign, roster_withdraw


@page(OFFICER, LIAISON, LEAD, MEMBER)
def outing(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    shown = get_object_or_404(outings_visible_to(user), pk=pk)
    role = request.GET.get("role", CrewRole.CATCHER)
    return _page(request, user, shown, _role(role), now)


@page(OFFICER)
@require_POST
def assign(request: HttpRequest, pk: int) -> HttpResponse:
    """Answers 409 with the reasons when the person isn't clear on the outing's date."""
    user, now = signed_in(request), timezone.now()
    shown = get_object_or_404(outings_managed_by(user), pk=pk)
    role, form = _role(request.POST.get("role", "")), AssignForm(request.POST, outing=shown, clear=[])
    outcome = attempt(request, form, lambda said: roster_assign(actor=user, outing=shown, now=now, **said))
    if outcome.kept:
        return told(request, outcome, _assigned(shown, role))
    return _page(request, user, shown, role, now, form=form, status=outcome.status)


def _assigned(outing: Outing, role: str) -> After:
    return After(
        back=f"{reverse('outing', args=[outing.pk])}?role={role}#assign",
        done=lambda made: [
            (messages.SUCCESS, _("%(person)s is on the roster.") % {"person": made.person.name})
        ],
    )


@page(OFFICER)
def withdraw(request: HttpRequest, pk: int, assignment_pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    held = Assignment.objects.filter(outing__in=outings_managed_by(user).filter(pk=pk))
    taken = get_object_or_404(held.select_related("outing__site", "person", "crew"), pk=assignment_pk)
    return form_page(
        request,
        WithdrawForm(request.POST or None),
        lambda said: roster_withdraw(actor=user, assignment=taken, reason=said["reason"], now=now),
        _withdraw_step(pk, taken),
    )


def _withdraw_step(pk: int, taken: Assignment) -> Step:
    return Step(
        title=_("Take %(person)s off the roster") % {"person": taken.person.name},
        submit=_("Take off the roster"),
        back=reverse("outing", args=[pk]),
        done=_("%(person)s is off the roster.") % {"person": taken.person.name},
    )


def _role(asked: str) -> str:
    return asked if asked in CrewRole.values else CrewRole.CATCHER.value


def _page(
    request: HttpRequest,
    user: User,
    shown: Outing,
    role: str,
    now: datetime,
    *,
    form: AssignForm | None = None,
    status: int = 200,
) -> HttpResponse:
    today = shown.site.local_date(now)
    over = shown.date < today
    context: dict[str, Any] = {
        "outing": shown,
        "site": shown.site,
        "crews": crews_of(shown),
        "withdrawals": shown.withdrawals.select_related("person", "withdrawn_by"),
        "sees_why": has_role(user, shown.site, Role.OFFICER, Role.LIAISON),
        "community": community_state(shown, today),
        "over": over,
        "open": not over and shown.cancelled_at is None,
        "may_manage": has_role(user, shown.site, Role.OFFICER),
        "form": form,
        "query": roster_query(shown.site, shown.date, 1),
    }
    if context["may_manage"] and context["open"] and not all(view.crew.left_at for view in context["crews"]):
        context |= assigning(user, shown, role, now, form)
    return render(request, "staff/outing.html", context, status=status)
