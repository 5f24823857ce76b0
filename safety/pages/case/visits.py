"""What was recorded of the clinic, put right: visits and referrals voided, immunoglobulin settled later."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.case import GiftForm, ReasonForm
from safety.models import Incident, Referral, Visit
from safety.pages.case.steps import case_step, followed_case
from safety.services.case.immunoglobulin import Gift, immunoglobulin_settle
from safety.services.case.referrals import referral_void
from safety.services.case.visit_voids import visit_void
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


@never_cache
@page(OFFICER, LIAISON)
def visit_voiding(request: HttpRequest, reference: str, visit_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    wrong = get_object_or_404(Visit.everything.filter(incident=incident), pk=visit_id)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: visit_void(actor=user, visit=wrong, reason=said["reason"], now=now),
        _visit_voiding_step(incident),
    )


def _visit_voiding_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Void this visit"),
        _("Void it"),
        _("The visit is voided and counts nowhere."),
        _(
            "It stays readable with your reason. Where no other visit stands, the person is kept off the roster again."
        ),
    )


@never_cache
@page(OFFICER, LIAISON)
def referral_voiding(request: HttpRequest, reference: str, referral_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    wrong = get_object_or_404(Referral.everything.filter(incident=incident), pk=referral_id)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: referral_void(actor=user, referral=wrong, reason=said["reason"], now=now),
        _referral_voiding_step(incident),
    )


def _referral_voiding_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Void this referral"),
        _("Void it"),
        _("The referral is voided and counts nowhere."),
        _("It stays readable with your reason."),
    )


@never_cache
@page(OFFICER, LIAISON)
def immunoglobulin(request: HttpRequest, reference: str, visit_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    visits = incident.visits.select_related("incident__person", "incident__site")
    seen = get_object_or_404(visits, pk=visit_id)
    return form_page(
        request,
        GiftForm(request.POST or None),
        lambda said: immunoglobulin_settle(actor=user, visit=seen, now=now, **_with_gift(said)),
        _immunoglobulin_step(incident),
    )


def _with_gift(said: dict[str, Any]) -> dict[str, Any]:
    gift = Gift(said["immunoglobulin"], said["immunoglobulin_on"], said["immunoglobulin_amount"])
    return {"gift": gift} | {name: said[name] for name in ("said_by", "reason", "confirmed")}


def _immunoglobulin_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("What became of immunoglobulin"),
        _("Record it"),
        _("It is recorded."),
        _("Write down what the clinic says and gave; whether it is wanted is the clinician's to decide."),
    )
