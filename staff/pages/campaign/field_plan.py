"""A campaign's field work: its areas, the outings planned from them, and whether the community was told."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from staff.doors.form import After, Step, form_page, pressed, refused_into, tried
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.forms.campaign.field_plan import AreaForm, FieldDaysForm, ToldTogetherForm
from staff.models import Campaign, CampaignArea, Outing
from staff.pages.outing.roster_days import USUAL_DAYS, roster_query
from staff.selectors.access import Role, campaigns_managed_by, campaigns_visible_to, has_role
from staff.selectors.campaign.community import community_state, with_community
from staff.selectors.campaign.field_plan import FieldPlan, people_by_day
from staff.services.campaign.community import community_told_together
from staff.services.campaign.field_plan import (
    area_add,
    area_change,
    area_remove,
    outings_generate,
    plan_of_days,
)

WORKDAYS = ["0", "1", "2", "3", "4"]


@page(OFFICER, LIAISON)
@require_safe
def field(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(campaigns_visible_to(user), pk=pk)
    today = row.site.local_date(now)
    asked = "weekdays" in request.GET or "show" in request.GET
    form = FieldDaysForm(request.GET if asked else None, initial={"weekdays": WORKDAYS})
    shown = _plan(row, form, today) if asked else None
    context = {"form": form, "may_manage": has_role(user, row.site, Role.OFFICER)} | _field(row, shown, today)
    return render(request, "staff/field_plan.html", context, status=INVALID if form.errors else 200)


def _field(row: Campaign, shown: FieldPlan | None, today: date) -> dict[str, Any]:
    outings = with_community(row.outings.all()).prefetch_related("crews", "assignments")
    return {
        "campaign": row,
        "site": row.site,
        "areas": row.areas.all(),
        "plan": shown,
        "people": people_by_day(shown, row.site) if shown else {},
        "outings": [(outing, community_state(outing, today)) for outing in outings],
        "today": today,
        "roster": _roster(row, today),
    }


def _roster(row: Campaign, today: date) -> str:
    """Where the crews of the coming outings are filled; empty when there is none."""
    coming = row.outings.filter(cancelled_at__isnull=True, date__gte=today).order_by("date").first()
    return f"{reverse('roster-grid')}?{roster_query(row.site, coming.date, USUAL_DAYS)}" if coming else ""


def _plan(row: Campaign, form: FieldDaysForm, today: date) -> FieldPlan | None:
    """The plan on the chosen days; None, and the form says why, where there is none."""
    if not form.is_valid():
        return None
    outcome = tried(partial(plan_of_days, row, today=today, **_chosen(form)))
    if outcome.refused is not None:
        refused_into(form, outcome.refused)
    return outcome.made


def _chosen(form: FieldDaysForm) -> dict[str, Any]:
    asked = form.cleaned_data
    return {"weekdays": sorted(map(int, asked["weekdays"])), "again": asked["again"]}


@page(OFFICER)
@require_POST
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, form = signed_in(request), timezone.now(), FieldDaysForm(request.POST)
    row = get_object_or_404(campaigns_managed_by(user), pk=pk)
    if not form.is_valid():
        messages.error(request, _("Choose the days of the week first."))
        return redirect("campaign-field", pk=pk)
    seen = request.POST.get("seen", "")
    act = partial(outings_generate, actor=user, campaign=row, seen=seen, now=now, **_chosen(form))
    return pressed(request, act, _planned(pk))


def _planned(pk: int) -> After:
    back = reverse("campaign-field", args=[pk])
    return After(back=back, done=_made_words, then=lambda _made: f"{back}#outings")


def _made_words(made: Sequence[Outing]) -> list[tuple[int, str]]:
    words = ngettext("%(number)d outing is planned.", "%(number)d outings are planned.", len(made))
    return [(messages.SUCCESS, words % {"number": len(made)})]


@page(OFFICER)
def area_new(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(campaigns_managed_by(user), pk=pk)
    return form_page(
        request,
        AreaForm(request.POST or None, initial={"first_on": row.starts_on}),
        lambda data: area_add(actor=user, campaign=row, now=now, **data),
        _area_new_step(pk, row),
    )


def _area_new_step(pk: int, row: Campaign) -> Step:
    return Step(
        title=_("Add an area to %(campaign)s") % {"campaign": row.name},
        submit=_("Add the area"),
        back=reverse("campaign-field", args=[pk]),
        done=_("The area is on the plan."),
    )


@page(OFFICER)
def area_edit(request: HttpRequest, pk: int, area_pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    area = _area(request, pk, area_pk)
    initial = {name: getattr(area, name) for name in AreaForm.base_fields}
    return form_page(
        request,
        AreaForm(request.POST or None, initial=initial),
        lambda data: area_change(actor=user, area=area, changes=data, now=now),
        _area_edit_step(pk, area),
    )


def _area_edit_step(pk: int, area: CampaignArea) -> Step:
    return Step(
        title=_("Change %(area)s") % {"area": area.name},
        submit=_("Keep the change"),
        back=reverse("campaign-field", args=[pk]),
        done=_("The area is changed. Outings that are planned already stay as they are."),
        before=(_("Outings that are planned already stay as they are; move or cancel them one by one."),),
    )


@page(OFFICER)
@require_POST
def area_off(request: HttpRequest, pk: int, area_pk: int) -> HttpResponse:
    user, now, area = signed_in(request), timezone.now(), _area(request, pk, area_pk)
    words = _("%(area)s is off the plan. Outings that are planned already stand.") % {"area": area.name}
    after = After(back=reverse("campaign-field", args=[pk]), done=words)
    return pressed(request, partial(area_remove, actor=user, area=area, now=now), after)


def _area(request: HttpRequest, pk: int, area_pk: int) -> CampaignArea:
    kept = campaigns_managed_by(signed_in(request)).filter(pk=pk)
    areas = CampaignArea.objects.select_related("campaign__site__rules")
    return get_object_or_404(areas, pk=area_pk, campaign__in=kept)


@page(OFFICER)
def told(request: HttpRequest, pk: int) -> HttpResponse:
    """One word for several of the campaign's outings: what is announced is usually a round, not a day."""
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(campaigns_managed_by(user), pk=pk)
    return form_page(
        request,
        _told_form(request, row, row.site.local_date(now)),
        lambda said: community_told_together(actor=user, now=now, **said),
        _told_step(pk),
    )


def _told_form(request: HttpRequest, row: Campaign, today: date) -> ToldTogetherForm:
    coming = row.outings.filter(cancelled_at__isnull=True, date__gte=today)
    moved = coming.filter(moves__isnull=False).exists()
    return ToldTogetherForm(request.POST or None, outings=coming, moved=moved, initial={"told_on": today})


def _told_step(pk: int) -> Step:
    return Step(
        title=_("The community was told"),
        submit=_("Record it for these outings"),
        back=f"{reverse('campaign-field', args=[pk])}#outings",
        done=_("It is on record that they were told."),
        before=(
            _(
                "Tick the outings that were announced in one go. What was told on another day is recorded by itself."
            ),
        ),
    )
