"""What was recorded of the clinic, put right: visits and referrals voided, immunoglobulin settled later."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case import GiftForm, ReasonForm
from safety.pages.clinic_side import followed_case, step_of
from safety.pages.steps import run_step
from safety.services.case import referral_void, visit_void
from safety.services.immunoglobulin import Gift, immunoglobulin_settle
from staff.doors.page import LIAISON, OFFICER, page, signed_in


@never_cache
@page(OFFICER, LIAISON)
def visit_voiding(request: HttpRequest, reference: str, visit_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    wrong = get_object_or_404(incident.visits.select_related("incident"), pk=visit_id)
    step = step_of(
        incident,
        _("Void this visit"),
        _("Void it"),
        _("The visit is voided and counts nowhere."),
        _(
            "It stays readable with your reason. Where no other visit stands, the person is kept off the roster again."
        ),
    )
    return run_step(
        request,
        form=ReasonForm(request.POST or None),
        act=lambda said: visit_void(actor=user, visit=wrong, reason=said["reason"], now=now),
        step=step,
    )


@never_cache
@page(OFFICER, LIAISON)
def referral_voiding(request: HttpRequest, reference: str, referral_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    wrong = get_object_or_404(incident.referrals.select_related("incident"), pk=referral_id)
    step = step_of(
        incident,
        _("Void this referral"),
        _("Void it"),
        _("The referral is voided and counts nowhere."),
        _("It stays readable with your reason."),
    )
    return run_step(
        request,
        form=ReasonForm(request.POST or None),
        act=lambda said: referral_void(actor=user, referral=wrong, reason=said["reason"], now=now),
        step=step,
    )


@never_cache
@page(OFFICER, LIAISON)
def immunoglobulin(request: HttpRequest, reference: str, visit_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    seen = get_object_or_404(
        incident.visits.select_related("incident__person", "incident__site"), pk=visit_id
    )
    step = step_of(
        incident,
        _("What became of immunoglobulin"),
        _("Record it"),
        _("It is recorded."),
        _("Write down what the clinic says and gave; whether it is wanted is the clinician's to decide."),
    )
    return run_step(
        request,
        form=GiftForm(request.POST or None),
        act=lambda said: immunoglobulin_settle(
            actor=user,
            visit=seen,
            gift=Gift(said["immunoglobulin"], said["immunoglobulin_on"], said["immunoglobulin_amount"]),
            said_by=said["said_by"],
            reason=said["reason"],
            confirmed=said["confirmed"],
            now=now,
        ),
        step=step,
    )
