"""Before a crew leaves: the questions, what was answered, and taking it back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.crew_day.outing_day import LeavingForm
from safety.pages.clinic.clinic_choice import ClinicLine, clinics_today
from safety.rules.crew_day.outing_day import leaving_day
from safety.selectors.crew_day.outing_day import crew_day, crews_led_by, offered_people
from safety.services.crew_day.departures import departure_record
from staff.doors.form import After, Outcome, attempt, told
from staff.doors.page import LEAD, MEMBER, OFFICER, page, signed_in
from staff.models import Crew, User
from staff.selectors.outing.kit import kit_missing
from staff.selectors.outing.roster import crews_of


def crew_led(user: User, outing_pk: int, crew_pk: int) -> Crew:
    return get_object_or_404(crews_led_by(user).filter(outing=outing_pk), pk=crew_pk)


@page(OFFICER, LEAD, MEMBER)
def leaving(request: HttpRequest, pk: int, crew_pk: int) -> HttpResponse:
    """What was recorded, or the questions while they may be answered; 409 when the service refuses."""
    user, now = signed_in(request), timezone.now()
    crew, outcome = crew_led(user, pk, crew_pk), Outcome[None]()
    day, lines = crew_day(user, crew, now), clinics_today(crew, now)
    # What was sent too late or twice is shown again with the refusal.
    form = _form(request, crew, lines) if day.may_leave or request.method == "POST" else None
    if form is not None:
        outcome = attempt(request, form, lambda _said: _record(user, crew, form, now))
    if outcome.kept:
        return told(request, outcome, _left(crew))
    context = {"form": form, "day": day, "lines": lines, **_around(crew, now)}
    return render(request, "safety/crew_leaving.html", context, status=outcome.status)


def _left(crew: Crew) -> After:
    words = _("%(crew)s leaves: it is recorded. Come back safe.") % {"crew": crew}
    return After(back=reverse("outing", args=[crew.outing_id]), done=words)


def _record(user: User, crew: Crew, form: LeavingForm, now: datetime) -> None:
    departure_record(actor=user, crew=crew, roll=form.roll(), answers=form.answers(), now=now)


def _form(request: HttpRequest, crew: Crew, lines: Sequence[ClinicLine]) -> LeavingForm:
    return LeavingForm(
        request.POST if request.method == "POST" else None,
        crew=list(crew.assignments.select_related("person")),
        site=crew.outing.site,
        clear=offered_people(crew.outing),
        clinics=[line.clinic for line in lines],
    )


def _around(crew: Crew, now: datetime) -> dict[str, Any]:
    outing = crew.outing
    view = next(view for view in crews_of(outing) if view.crew.pk == crew.pk)
    where = leaving_day(outing.date, outing.site.local_date(now))
    return {
        "outing": outing,
        "site": outing.site,
        "lacking": view.missing,
        "where": where,
        "unticked": kit_missing(crew),
    }
