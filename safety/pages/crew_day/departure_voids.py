"""Taking back a departure that was entered in error."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.case.case import ReasonForm
from safety.models import Departure
from safety.pages.crew_day.departures import crew_led
from safety.selectors.crew_day.outing_day import newest_departure
from safety.services.crew_day.departure_voids import departure_void
from staff.doors.form import Step, form_page
from staff.doors.page import LEAD, MEMBER, OFFICER, page, signed_in


@page(OFFICER, LEAD, MEMBER)
def leaving_voiding(request: HttpRequest, pk: int, crew_pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    departure = newest_departure(crew_led(user, pk, crew_pk))
    if departure is None:
        raise Http404
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: departure_void(actor=user, departure=departure, reason=said["reason"], now=now),
        _leaving_voiding_step(pk, departure),
    )


def _leaving_voiding_step(pk: int, departure: Departure) -> Step:
    return Step(
        title=_("Void the leaving of %(crew)s") % {"crew": departure.crew},
        submit=_("Void it"),
        back=reverse("outing", args=[pk]),
        done=_("It is voided and stays readable. The roster stays as it is."),
        before=(_("The roster stays as it is: who was taken off or put on is put right there."),),
    )
