"""Outings: the list, one outing with its roster, planning, moving and cancelling."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.forms.outings import CancelForm, MoveForm, OutingForm
from staff.models import Outing
from staff.doors.form import attempt, form_page
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.selectors.access import Role, outings_managed_by, outings_visible_to, sites_as
from staff.selectors.roster import outing_list
from staff.services.roster import outing_cancel, outing_create, outing_move


@page(OFFICER, LIAISON, LEAD, MEMBER)
def outings(request: HttpRequest) -> HttpResponse:
    shown = outing_list(outings_visible_to(signed_in(request)), timezone.now())
    return render(request, "staff/outings.html", {"shown": shown})


@page(OFFICER)
def outing_add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, Role.OFFICER)
    form = OutingForm(request.POST or None, sites=sites, initial={"site": sites.first()})
    made: list[Outing] = []

    def plan(data: dict[str, Any]) -> None:
        site = data.pop("site")
        made.append(outing_create(actor=user, site_id=site.pk, now=now, **data))

    status = attempt(form, plan) if request.method == "POST" else 200
    if made:
        messages.success(request, _("The outing is planned. Put people on its crews next."))
        return redirect("outing", pk=made[0].pk)
    context = {
        "form": form,
        "title": _("Plan an outing"),
        "submit": _("Plan the outing"),
        "back": reverse("outings"),
    }
    return render(request, "staff/form_page.html", context, status=status)


@page(OFFICER)
def outing_date(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    outing = get_object_or_404(outings_managed_by(user), pk=pk)

    def move(data: dict[str, Any]) -> None:
        taken_off = len(outing_move(actor=user, outing=outing, now=now, **data))
        if taken_off:
            words = ngettext(
                "%(number)d person can't go on the new date and is off the roster; the outing's page says why.",
                "%(number)d people can't go on the new date and are off the roster; the outing's page says why.",
                taken_off,
            )
            messages.warning(request, words % {"number": taken_off})

    return form_page(
        request,
        MoveForm(request.POST or None, initial={"date": outing.date}),
        move,
        title=_("Move the outing to %(area)s") % {"area": outing.area},
        submit=_("Move the outing"),
        back=reverse("outing", args=[pk]),
        done=_("The outing is moved."),
    )


@page(OFFICER)
def outing_off(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    outing = get_object_or_404(outings_managed_by(user), pk=pk)
    return form_page(
        request,
        CancelForm(request.POST or None),
        lambda data: outing_cancel(actor=user, outing=outing, reason=data["reason"], now=now),
        title=_("Cancel the outing to %(area)s") % {"area": outing.area},
        submit=_("Cancel the outing"),
        back=reverse("outing", args=[pk]),
        done=_("The outing is cancelled and everybody is off its roster."),
    )
