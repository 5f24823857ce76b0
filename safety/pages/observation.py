"""The animal of a case: begin to watch it, record a check, say how it ended; and the page of its private link."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from safety.forms.case import ReasonForm
from safety.forms.observation import BeginForm, CheckForm, OutcomeForm
from safety.models import AnimalCheck, AnimalOutcome, Incident, Observation, Seen
from safety.pages.animal_words import seen_state
from safety.pages.cards import picture_of
from safety.pages.steps import case_step
from safety.rules import observation as rule
from safety.selectors.cases import incidents_followed_by
from safety.selectors.observation import observation_of, words_of
from safety.services.animal_links import (
    animal_link_check,
    animal_link_end,
    animal_link_make,
    animal_link_opened,
)
from safety.services.observation import (
    check_record,
    check_void,
    observation_begin,
    observation_void,
    outcome_record,
    outcome_void,
)
from staff.doors.form import After, Outcome, Step, form_page, pressed, tried
from staff.doors.page import LIAISON, OFFICER, open_page, page, signed_in
from staff.doors.retry import acting


def _incident(request: HttpRequest, reference: str) -> Incident:
    return get_object_or_404(incidents_followed_by(signed_in(request)), reference=reference)


def _observation(incident: Incident) -> Observation:
    observation = observation_of(incident)
    if observation is None:
        raise Http404
    return observation


@never_cache
@page(OFFICER, LIAISON)
def begin(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
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
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    observation = _observation(incident)
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
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    observation = _observation(incident)
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
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    observation = _observation(incident)
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
        _("The observation is voided; it stays in the audit trail, and its link has ended."),
    )


@never_cache
@page(OFFICER, LIAISON)
def check_voiding(request: HttpRequest, reference: str, check_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    row = get_object_or_404(AnimalCheck.objects.filter(observation=_observation(incident)), pk=check_id)
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
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    row = get_object_or_404(AnimalOutcome.objects.filter(observation=_observation(incident)), pk=outcome_id)
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


@never_cache
@page(OFFICER, LIAISON)
@sensitive_variables("made")
def card(request: HttpRequest, reference: str) -> HttpResponse:
    """Asked first, for a new link ends the old one. The address is in this answer and nowhere else: no redirect."""
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    observation = _observation(incident)
    context: dict[str, Any] = {"incident": incident, "site": incident.site, "observation": observation}
    if request.method != "POST":
        live = observation.links.filter(ended_at__isnull=True).first()
        return render(request, "safety/animal_card_ask.html", context | {"link": live})
    made = acting(animal_link_make, actor=user, observation=observation, now=now)
    context |= {"made": made, "picture": picture_of(made.address)}
    return render(request, "safety/animal_card.html", context, status=201)


@require_POST
@page(OFFICER, LIAISON)
def card_ending(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), _incident(request, reference), timezone.now()
    words = _("The link has ended: whoever holds it can record nothing any more.")
    after = After(back=reverse("case", args=[reference]), done=words)
    act = partial(animal_link_end, actor=user, observation=_observation(incident), now=now)
    return pressed(request, act, after)


# The address is the whole right: there is no session to borrow, and without a referrer browsers send the origin "null".
@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
@open_page
@sensitive_variables()
def word(request: HttpRequest, code: str) -> HttpResponse:
    """How is the animal today? One question, six answers; it shows nothing about anybody."""
    now = timezone.now()
    link = acting(animal_link_opened, code=code, now=now)
    if link is None:
        raise Http404
    outcome = Outcome[AnimalCheck]()
    if request.method == "POST":
        outcome = tried(partial(animal_link_check, link=link, seen=request.POST.get("seen", ""), now=now))
    context = _word(link.observation, now, outcome)
    return unseen(render(request, "safety/animal_word.html", context, status=outcome.status))


def _word(observation: Observation, now: datetime, outcome: Outcome[AnimalCheck]) -> dict[str, Any]:
    today = observation.incident.site.local_date(now)
    said = words_of(observation_of(observation.incident) or observation).get(today)
    kept = outcome.made.get_seen_display() if outcome.made else ""
    return {
        "observation": observation,
        "today": today,
        "said": seen_state(said) if said else None,
        "kept": kept,
        "alarming": kept and said in rule.ALARMING,
        "refusal": outcome.refused.message if outcome.refused else "",
        "answers": [(value, seen_state(rule.Seen(value))) for value in Seen.values],
    }


def unseen(response: HttpResponse) -> HttpResponse:
    """The secret stands in the address: no cache, no search engine and no other site gets to see it."""
    response["Cache-Control"] = "no-store"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
