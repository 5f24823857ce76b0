"""The private link of a watched animal: made on a card, ended, and the page it opens."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from safety.models import AnimalCheck, Observation, Seen
from safety.pages.animal.animal_words import seen_state
from safety.pages.animal.observation import watched
from safety.pages.case.steps import followed_case
from safety.pages.phone.cards import picture_of
from safety.rules.animal import observation as rule
from safety.selectors.animal.observation import observation_of, words_of
from safety.services.animal.animal_links import (
    animal_link_check,
    animal_link_end,
    animal_link_make,
    animal_link_opened,
)
from staff.doors.form import After, Outcome, pressed, tried
from staff.doors.page import LIAISON, OFFICER, open_page, page, signed_in
from staff.doors.retry import acting


@never_cache
@page(OFFICER, LIAISON)
@sensitive_variables("made")
def card(request: HttpRequest, reference: str) -> HttpResponse:
    """Asked first, for a new link ends the old one. The address is in this answer and nowhere else: no redirect."""
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    observation = watched(incident)
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
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    words = _("The link has ended: whoever holds it can record nothing any more.")
    after = After(back=reverse("case", args=[reference]), done=words)
    act = partial(animal_link_end, actor=user, observation=watched(incident), now=now)
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
