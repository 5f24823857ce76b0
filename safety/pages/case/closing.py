"""Closing a case, and opening it again."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.case import CloseForm, ReasonForm
from safety.models import Incident
from safety.pages.case.steps import case_step, followed_case
from safety.rules.case.needs import Bar
from safety.selectors.case.need_words import BARRED
from safety.selectors.case.needs import needs_of
from safety.services.case.closing import incident_close, incident_reopen
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


@never_cache
@page(OFFICER, LIAISON)
def close(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    return form_page(
        request,
        CloseForm(request.POST or None, incident=incident),
        lambda said: incident_close(actor=user, incident=incident, now=now, **said),
        _close_step(incident, now),
    )


def _close_step(incident: Incident, now: datetime) -> Step:
    return case_step(
        incident,
        _("Close the case"),
        _("Close it"),
        _("The case is closed."),
        _("Say what came of it and what the team learns from it."),
        *_in_the_way(incident, now),
    )


def _in_the_way(incident: Incident, now: datetime) -> list[str]:
    """What closing would be refused for, said before a reason is typed; the missing answers have a field of their own."""
    bars = [need.bars for need in needs_of(incident, now) if need.bars not in (None, Bar.DETAILS)]
    return [str(BARRED[bar]) for bar in dict.fromkeys(bars) if bar is not None]


@never_cache
@page(OFFICER, LIAISON)
def reopen(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: incident_reopen(actor=user, incident=incident, reason=said["reason"], now=now),
        _reopen_step(incident),
    )


def _reopen_step(incident: Incident) -> Step:
    return case_step(incident, _("Open the case again"), _("Open it again"), _("The case is open again."))
