"""The wash clock of a case: start, stop, write down afterwards, void."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from safety.errors import Invalid
from safety.forms.case.case import ReasonForm, SoapForm, WashForm
from safety.forms.case.report import local_instant
from safety.models import Incident, WashSpell
from safety.rules.case.washing import WashSummary
from safety.selectors.case.cases import incidents_visible_to, incidents_washed_by, washing_of
from safety.services.case.washing import wash_add, wash_start, wash_stop, wash_void
from safety.words import State, soap_words, wash_state, wash_words
from staff.doors.form import Step, form_page
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.models import User

EVERYBODY = (OFFICER, LIAISON, LEAD, MEMBER)


@dataclass(frozen=True)
class WashClock:
    """Everything the washing part of a page shows; seconds as at `now`."""

    washing: WashSummary
    state: State
    words: str
    soap: str
    target_seconds: int
    running: WashSpell | None
    spells: list[WashSpell]


def wash_clock(incident: Incident, now: datetime) -> WashClock:
    washing = washing_of(incident, now)
    minutes = incident.site.rules.wash_minutes
    standing = incident.wash_spells.all()
    return WashClock(
        washing=washing,
        state=wash_state(washing),
        words=wash_words(washing, minutes),
        soap=soap_words(washing.soap) if standing else "",
        target_seconds=minutes * 60,
        running=next((spell for spell in standing if spell.stopped_at is None), None),
        spells=list(WashSpell.everything.filter(incident=incident)),
    )


def back_to(user: User, incident: Incident) -> str:
    """The case for those who see it, else the page that says what to do after reporting."""
    seen = incidents_visible_to(user).filter(pk=incident.pk).exists()
    return reverse("case" if seen else "report-sent", args=[incident.reference])


def _incident(request: HttpRequest, reference: str) -> Incident:
    return get_object_or_404(incidents_washed_by(signed_in(request)), reference=reference)


@never_cache
@require_POST
@page(*EVERYBODY)
def wash_starting(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    return form_page(
        request,
        SoapForm({"soap": "unknown"}),
        lambda _said: wash_start(actor=user, incident=incident, now=now),
        _wash_starting_step(user, incident),
    )


def _wash_starting_step(user: User, incident: Incident) -> Step:
    return Step(
        title=_("Start the wash clock"),
        submit=_("Start"),
        back=back_to(user, incident),
        site=incident.site,
        done=_("The wash clock runs. Soap and running water, all the time."),
    )


@never_cache
@require_POST
@page(*EVERYBODY)
def wash_stopping(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    return form_page(
        request,
        SoapForm(request.POST),
        lambda said: wash_stop(actor=user, incident=incident, now=now, soap=said["soap"]),
        _wash_stopping_step(user, incident),
    )


def _wash_stopping_step(user: User, incident: Incident) -> Step:
    return Step(
        title=_("Stop the wash clock"),
        submit=_("Stop"),
        back=back_to(user, incident),
        site=incident.site,
        done=_("The wash clock is stopped."),
    )


@never_cache
@page(*EVERYBODY)
def wash_adding(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    day = incident.site.local_date(incident.happened_at)
    act = partial(wash_add, actor=user, incident=incident, now=now)
    return form_page(
        request,
        WashForm(request.POST or None, initial={"day": day}),
        lambda said: act(soap=said["soap"], **_instants(said, incident.site.zone)),
        _wash_adding_step(user, incident),
    )


def _instants(said: dict[str, Any], zone: ZoneInfo) -> dict[str, Any]:
    """When the washing began and ended; raises Invalid for a time that the clocks left out."""
    times: dict[str, Any] = {}
    for name in ("started", "stopped"):
        at = local_instant(said["day"], said[name], zone)
        if at is None:
            raise Invalid({name: _("The clocks left this time out that day; check it.")})
        times[f"{name}_at"] = at
    return times


def _wash_adding_step(user: User, incident: Incident) -> Step:
    return Step(
        title=_("Write down washing"),
        submit=_("Keep it"),
        back=back_to(user, incident),
        site=incident.site,
        done=_("The washing is written down."),
        before=(
            _("One entry for each time under the tap; entries add up. Times as clocks at %(site)s show them.")
            % {"site": incident.site},
        ),
    )


@never_cache
@page(*EVERYBODY)
def wash_voiding(request: HttpRequest, reference: str, spell: int) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    every = WashSpell.everything.select_related("incident__person__site").filter(incident=incident)
    wrong = get_object_or_404(every, pk=spell)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: wash_void(actor=user, spell=wrong, reason=said["reason"], now=now),
        _wash_voiding_step(user, incident),
    )


def _wash_voiding_step(user: User, incident: Incident) -> Step:
    return Step(
        title=_("Void this washing"),
        submit=_("Void it"),
        back=back_to(user, incident),
        site=incident.site,
        done=_("The entry is voided; it stays readable and no longer counts."),
    )
