"""The animal of a case: begin to watch it, record a check, say how it ended."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.animal.observation import BeginForm, CheckForm, OutcomeForm
from safety.forms.case.case import ReasonForm
from safety.models import AnimalCheck, AnimalOutcome, Incident, Observation
from safety.pages.case.steps import case_step, followed_case
from safety.selectors.animal.observation import newest_observation, observation_of
from safety.services.animal.observation import check_record, observation_begin, outcome_record
from safety.services.animal.observation_voids import check_void, observation_void, outcome_void
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


def watched(incident: Incident) -> Observation:
    observation = observation_of(incident)
    if observation is None:
        raise Http404
    return observation


def _newest(incident: Incident) -> Observation:
    """Voided or not: who voids a second time is told so."""
    observation = newest_observation(incident)
    if observation is None:
        raise Http404
    return observation


@never_cache
@page(OFFICER, LIAISON)
def begin(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    return form_page(
        request,
        BeginForm(request.POST or None),
        lambda data: observation_begin(actor=user, incident=incident, now=now, **data),
        _begin_step(incident),
    )


def _begin_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Watch the animal"),
        _("Begin to watch"),
        _("The animal is being watched. Make the link for whoever sees it every day."),
        _(
            "Watching never delays the first dose: the person goes to the clinic today, whatever the animal does."
        ),
        _(
            "It is for a dog or a cat that can be kept and seen every day. Nobody kills it, and nobody handles it bare-handed."
        ),
    )


@never_cache
@page(OFFICER, LIAISON)
def check(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    observation = watched(incident)
    return form_page(
        request,
        CheckForm(request.POST or None, initial={"day": incident.site.local_date(now)}),
        lambda data: check_record(observation=observation, actor=user, now=now, **data),
        _check_step(incident),
    )


def _check_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("How is the animal?"),
        _("Record the check"),
        _("The check is kept."),
        _("Of several checks of a day the newest counts; the others stay readable."),
    )


@never_cache
@page(OFFICER, LIAISON)
def outcome(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    observation = watched(incident)
    return form_page(
        request,
        OutcomeForm(request.POST or None, initial={"known_on": incident.site.local_date(now)}),
        lambda data: outcome_record(observation=observation, actor=user, now=now, **data),
        _outcome_step(incident),
    )


def _outcome_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("What became of the animal"),
        _("Record it"),
        _("It is kept. The case says what to tell the clinician today."),
        _("The course goes on meanwhile: it stops on the clinician's word alone."),
    )


@never_cache
@page(OFFICER, LIAISON)
def voiding(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    observation = _newest(incident)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda data: observation_void(actor=user, observation=observation, now=now, **data),
        _voiding_step(incident),
    )


def _voiding_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Void the observation"),
        _("Void it"),
        _("The observation is voided and stays readable; its link has ended."),
    )


@never_cache
@page(OFFICER, LIAISON)
def check_voiding(request: HttpRequest, reference: str, check_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    row = get_object_or_404(AnimalCheck.everything.filter(observation__incident=incident), pk=check_id)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda data: check_void(actor=user, check=row, now=now, **data),
        _check_voiding_step(row, incident),
    )


def _check_voiding_step(row: AnimalCheck | AnimalOutcome, incident: Incident) -> Step:
    return case_step(
        incident, _("Void a check"), _("Void it"), _("The check is voided and stays readable."), str(row)
    )


@never_cache
@page(OFFICER, LIAISON)
def outcome_voiding(request: HttpRequest, reference: str, outcome_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    row = get_object_or_404(AnimalOutcome.everything.filter(observation__incident=incident), pk=outcome_id)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda data: outcome_void(actor=user, outcome=row, now=now, **data),
        _outcome_voiding_step(row, incident),
    )


def _outcome_voiding_step(row: AnimalCheck | AnimalOutcome, incident: Incident) -> Step:
    return case_step(
        incident, _("Void an entry"), _("Void it"), _("The entry is voided and stays readable."), str(row)
    )
