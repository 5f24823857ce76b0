"""Outings: the list, one outing with its roster, planning, moving and cancelling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.doors.form import Step, form_page
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.forms.outing.outings import CancelForm, DetailsForm, MoveForm, OutingForm
from staff.models import Outing
from staff.pages.lists import ALL
from staff.selectors.access import Role, outings_managed_by, outings_visible_to, sites_as
from staff.selectors.outing.roster import outing_list
from staff.services.outing.outing_details import outing_change
from staff.services.outing.outings import outing_cancel, outing_create, outing_move


@page(OFFICER, LIAISON, LEAD, MEMBER)
def outings(request: HttpRequest) -> HttpResponse:
    shown = outing_list(outings_visible_to(signed_in(request)), timezone.now(), whole=ALL in request.GET)
    return render(request, "staff/outings.html", {"shown": shown})


@page(OFFICER)
def outing_add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, Role.OFFICER)
    return form_page(
        request,
        OutingForm(request.POST or None, sites=sites, initial={"site": sites.first()}),
        lambda said: outing_create(actor=user, now=now, **_of_site(said)),
        _outing_add_step(),
    )


def _of_site(said: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in said.items() if name != "site"} | {"site_id": said["site"].pk}


def _outing_add_step() -> Step:
    return Step(
        title=_("Plan an outing"),
        submit=_("Plan the outing"),
        back=reverse("outings"),
        done=_("The outing is planned. Put people on its crews next."),
        then=lambda outing: reverse("outing", args=[outing.pk]),
    )


@page(OFFICER)
def outing_date(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    outing = get_object_or_404(outings_managed_by(user), pk=pk)
    return form_page(
        request,
        MoveForm(request.POST or None, initial={"date": outing.date}),
        lambda said: outing_move(actor=user, outing=outing, now=now, **said),
        _outing_date_step(outing, pk),
    )


def _outing_date_step(outing: Outing, pk: int) -> Step:
    return Step(
        title=_("Move the outing to %(area)s") % {"area": outing.area},
        submit=_("Move the outing"),
        back=reverse("outing", args=[pk]),
        done=_moved,
    )


def _moved(taken_off: Sequence[Any]) -> list[tuple[int, str]]:
    said = [(messages.SUCCESS, _("The outing is moved."))]
    if not taken_off:
        return said
    words = ngettext(
        "%(number)d person can't go on the new date and is off the roster; the outing's page says why.",
        "%(number)d people can't go on the new date and are off the roster; the outing's page says why.",
        len(taken_off),
    )
    return [(messages.WARNING, words % {"number": len(taken_off)}), *said]


@page(OFFICER)
def outing_details(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    outing = get_object_or_404(outings_managed_by(user), pk=pk)
    return form_page(
        request,
        DetailsForm(request.POST or None, initial=asdict(outing.details)),
        lambda data: outing_change(actor=user, outing=outing, details=data["details"], now=now),
        _outing_details_step(outing, pk),
    )


def _outing_details_step(outing: Outing, pk: int) -> Step:
    return Step(
        title=_("What the crews of %(area)s are told") % {"area": outing.area},
        submit=_("Keep"),
        back=reverse("outing", args=[pk]),
        done=_("It is kept; the crews read it on their pages."),
    )


@page(OFFICER)
def outing_off(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    outing = get_object_or_404(outings_managed_by(user), pk=pk)
    return form_page(
        request,
        CancelForm(request.POST or None),
        lambda data: outing_cancel(actor=user, outing=outing, reason=data["reason"], now=now),
        _outing_off_step(pk, outing),
    )


def _outing_off_step(pk: int, outing: Outing) -> Step:
    return Step(
        title=_("Cancel the outing to %(area)s") % {"area": outing.area},
        submit=_("Cancel the outing"),
        back=reverse("outing", args=[pk]),
        done=_("The outing is cancelled and everybody is off its roster."),
    )
