"""Who is away, and who is written to instead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.case import ReasonForm
from safety.forms.notices.absences import AbsenceForm
from safety.models import Absence
from safety.selectors.notices.absences import (
    absences_kept_by,
    coming_absences,
    sites_without_deputy,
    users_kept_by,
)
from safety.services.notices.absences import absence_add, absence_end
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import Site, User


@dataclass(frozen=True)
class AbsenceRow:
    """`alone`: the sites at which nobody stands in; `kept`: the reader may end it."""

    absence: Absence
    alone: list[Site]
    kept: bool


def absence_rows(user: User, now: datetime) -> list[AbsenceRow]:
    found = coming_absences(user, now)
    alone, kept = sites_without_deputy(found), set(users_kept_by(user).values_list("pk", flat=True))
    return [AbsenceRow(row, alone[row.pk], row.user_id in kept) for row in found]


@never_cache
@page(OFFICER, LIAISON)
def absences(request: HttpRequest) -> HttpResponse:
    rows = absence_rows(signed_in(request), timezone.now())
    return render(request, "safety/absences.html", {"rows": rows})


@page(OFFICER, LIAISON)
def absence_adding(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    return form_page(
        request,
        AbsenceForm(request.POST or None, actor=user),
        lambda said: absence_add(actor=user, now=now, **said),
        _absence_adding_step(),
    )


def _absence_adding_step() -> Step:
    return Step(
        title=_("Enter an absence"),
        submit=_("Enter it"),
        back=reverse("absences"),
        done=_("The absence is entered; notices that wait follow within half a minute."),
    )


@page(OFFICER, LIAISON)
def absence_ending(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    absence = get_object_or_404(absences_kept_by(user), pk=pk)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: absence_end(actor=user, absence=absence, reason=said["reason"], now=now),
        _absence_ending_step(absence),
    )


def _absence_ending_step(absence: Absence) -> Step:
    return Step(
        title=_("End the absence of %(who)s") % {"who": absence.user},
        submit=_("End it"),
        back=reverse("absences"),
        done=_("The absence is ended; the person is written to again."),
    )
