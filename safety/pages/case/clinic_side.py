"""The clinic's side of a case: referral, visit and decision."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.case import DecisionForm, ReferralForm, VisitForm
from safety.models import Incident
from safety.pages.case.steps import case_step, followed_case
from safety.pages.clinic.clinic_choice import ClinicAdvice, clinic_advice
from safety.selectors.clinic.clinics import clinics_in_order, clinics_of
from safety.services.case.referrals import referral_make
from safety.services.case.visits import visit_decide, visit_record
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


@never_cache
@page(OFFICER, LIAISON)
def referral(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    advice = clinic_advice(incident, now, by_record=True)
    first = {"clinic": advice.first.clinic if advice.first else None}
    clinics = clinics_in_order(incident.site, advice.order)
    return form_page(
        request,
        ReferralForm(request.POST or None, clinics=clinics, initial=first),
        lambda said: referral_make(actor=user, incident=incident, now=now, **said),
        _referral_step(advice, incident),
    )


def _referral_step(advice: ClinicAdvice, incident: Incident) -> Step:
    return case_step(
        incident,
        _("Refer to a clinic"),
        _("Refer"),
        _("The referral is kept. The clinic is to be reached the same day."),
        _("Ring the clinic first: ask whether vaccine is there and whether it is open."),
        advice=advice,
    )


@never_cache
@page(OFFICER, LIAISON)
def visit(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    clinics = clinics_of(incident.site)
    return form_page(
        request,
        VisitForm(request.POST or None, clinics=clinics, initial=visit_begun(incident, now)),
        lambda said: visit_record(actor=user, incident=incident, now=now, **said),
        _visit_step(incident),
    )


def visit_begun(incident: Incident, now: datetime) -> dict[str, Any]:
    """What is filled in before anybody types: today, at the clinic referred to last."""
    referred = incident.referrals.order_by("-referred_at").first()
    return {"visited_on": incident.site.local_date(now), "clinic": referred.clinic if referred else None}


def _visit_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Record a clinic visit"),
        _("Record the visit"),
        _("The visit is recorded."),
        _(
            "Write down what the clinician decided and what was given; nothing here tells a clinician what to do."
        ),
    )


@never_cache
@page(OFFICER, LIAISON)
def decision(request: HttpRequest, reference: str, visit_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    seen = get_object_or_404(incident.visits.select_related("incident__person__site"), pk=visit_id)
    return form_page(
        request,
        DecisionForm(request.POST or None),
        lambda said: visit_decide(actor=user, visit=seen, now=now, **said),
        _decision_step(incident),
    )


def _decision_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Record the clinician's decision"),
        _("Record the decision"),
        _("The decision is recorded."),
    )
