"""After a crew is back: what it did, and taking that back."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.case.case import ReasonForm
from safety.forms.crew_day.outing_day import ReturnForm
from safety.models import CrewReturn
from safety.pages.crew_day.departures import crew_led
from safety.rules.crew_day.outing_day import return_day
from safety.selectors.crew_day.outing_day import crew_day, departure_of, newest_return
from safety.selectors.lessons.denominators import counted_by_phone
from safety.services.crew_day.returns import Worked, return_record, return_void
from staff.doors.form import After, Outcome, Step, attempt, form_page, told
from staff.doors.page import LEAD, MEMBER, OFFICER, page, signed_in
from staff.models import Crew


@page(OFFICER, LEAD, MEMBER)
def back(request: HttpRequest, pk: int, crew_pk: int) -> HttpResponse:
    """What was recorded, or the questions while they may be answered; 409 when the service refuses."""
    user, now = signed_in(request), timezone.now()
    crew = crew_led(user, pk, crew_pk)
    day, counted, outcome = crew_day(user, crew, now), counted_by_phone(crew), Outcome[CrewReturn]()
    form = _form(request, crew, counted) if day.may_return or request.method == "POST" else None
    if form is not None:
        act = partial(return_record, actor=user, crew=crew, now=now)
        outcome = attempt(request, form, lambda _said: act(worked=form.worked()))
    if outcome.kept and form is not None:
        return told(request, outcome, _recorded(crew, form.worked()))
    context = {"form": form, "day": day, "counted": bool(counted), **_around(crew, now)}
    return render(request, "safety/crew_back.html", context, status=outcome.status)


def _around(crew: Crew, now: datetime) -> dict[str, Any]:
    return {"outing": crew.outing, "site": crew.outing.site, "where": _where(crew, now)}


def _recorded(crew: Crew, worked: Worked) -> After:
    said = [(messages.SUCCESS, _("%(crew)s is back: it is recorded.") % {"crew": crew})]
    if worked.incidents:
        words = _("Each incident has a report of its own: “Somebody is bitten”, above, if it isn't sent yet.")
        said.append((messages.WARNING, words))
    return After(back=reverse("outing", args=[crew.outing_id]), done=lambda _made: said)


def _where(crew: Crew, now: datetime) -> str:
    return return_day(crew.outing.date, crew.outing.site.local_date(now))


def _form(request: HttpRequest, crew: Crew, counted: dict[str, int]) -> ReturnForm:
    left = departure_of(crew)
    there = [row for row in left.people.all() if row.present] if left else crew.assignments.all()
    return ReturnForm(request.POST if request.method == "POST" else None, counted=counted, people=len(there))


@page(OFFICER, LEAD, MEMBER)
def back_voiding(request: HttpRequest, pk: int, crew_pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = newest_return(crew_led(user, pk, crew_pk))
    if row is None:
        raise Http404
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: return_void(actor=user, crew_return=row, reason=said["reason"], now=now),
        _back_voiding_step(pk, row),
    )


def _back_voiding_step(pk: int, row: CrewReturn) -> Step:
    return Step(
        title=_("Void the return of %(crew)s") % {"crew": row.crew},
        submit=_("Void it"),
        back=reverse("outing", args=[pk]),
        done=_("It is voided and stays readable. Its dogs and hours count nowhere."),
    )
