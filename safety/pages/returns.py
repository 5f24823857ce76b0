"""After a crew is back: what it did, and taking that back."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.case import ReasonForm
from safety.forms.outing_day import ReturnForm
from safety.pages.departures import crew_led
from safety.rules.outing_day import return_day
from safety.selectors.denominators import counted_by_phone
from safety.selectors.outing_day import crew_day, departure_of, return_of
from safety.services.returns import return_record, return_void
from staff.models import Crew
from staff.doors.form import attempt, form_page
from staff.doors.page import LEAD, MEMBER, OFFICER, page, signed_in


@page(OFFICER, LEAD, MEMBER)
def back(request: HttpRequest, pk: int, crew_pk: int) -> HttpResponse:
    """What was recorded, or the questions while they may be answered; 409 when the service refuses."""
    user, now = signed_in(request), timezone.now()
    crew, status = crew_led(user, pk, crew_pk), 200
    day, counted = crew_day(user, crew, now), counted_by_phone(crew)
    form = _form(request, crew, counted) if day.may_return or request.method == "POST" else None
    if form is not None and request.method == "POST":
        status = attempt(
            form, lambda _data: return_record(actor=user, crew=crew, worked=form.worked(), now=now)
        )
        if not status:
            messages.success(request, _("%(crew)s is back: it is recorded.") % {"crew": crew})
            if form.worked().incidents:
                messages.warning(
                    request,
                    _(
                        "Each incident has a report of its own: “Somebody is bitten”, above, if it isn't sent yet."
                    ),
                )
            return redirect("outing", pk=pk)
    context = {
        "form": form,
        "day": day,
        "outing": crew.outing,
        "site": crew.outing.site,
        "counted": bool(counted),
        "where": _where(crew, now),
    }
    return render(request, "safety/crew_back.html", context, status=status)


def _where(crew: Crew, now: datetime) -> str:
    return return_day(crew.outing.date, crew.outing.site.local_date(now))


def _form(request: HttpRequest, crew: Crew, counted: dict[str, int]) -> ReturnForm:
    left = departure_of(crew)
    there = [row for row in left.people.all() if row.present] if left else crew.assignments.all()
    return ReturnForm(request.POST if request.method == "POST" else None, counted=counted, people=len(there))


@page(OFFICER, LEAD, MEMBER)
def back_voiding(request: HttpRequest, pk: int, crew_pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = return_of(crew_led(user, pk, crew_pk))
    if row is None:
        raise Http404
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: return_void(actor=user, crew_return=row, reason=said["reason"], now=now),
        title=_("Void the return of %(crew)s") % {"crew": row.crew},
        submit=_("Void it"),
        back=reverse("outing", args=[pk]),
        done=_("It is voided and stays readable. Its dogs and hours count nowhere."),
    )
