"""The kit of an outing: the list to print and to tick, also without network, and what a campaign needs in all."""

from __future__ import annotations

import json
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from staff.doors.form import After, Outcome, pressed, tried
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.forms.outing.kit import KitTickForm
from staff.ground.errors import Conflict, Invalid
from staff.models import KitTick, Outing, User
from staff.selectors.access import campaigns_visible_to, outings_visible_to
from staff.selectors.outing.kit import campaign_kit, kit_complete, may_tick, outing_kit
from staff.services.outing.kit import kit_tick

# What the page needs to look and work as it does; kept on the phone with it.
FILES = ("app.css", "mark.svg", "staff/kit.css", "staff/kit.js", "staff/kit_ticks.js")
# The copy kept on a phone shows what is for the crew alone: no menu, no cases that wait. What another
# page has to say stays unread, for the script fetches the copy while nobody looks.
BARE: dict[str, Any] = {"nav": [], "needs_now": None, "mailbox_url": "", "messages": ()}


@page(OFFICER, LIAISON, LEAD, MEMBER)
@require_safe
def kit(request: HttpRequest, pk: int) -> HttpResponse:
    """With ?copy in the address, as it is kept on a phone."""
    user, now = signed_in(request), timezone.now()
    shown = get_object_or_404(outings_visible_to(user), pk=pk)
    context = _list_of(shown, user, now) | (BARE if "copy" in request.GET else {})
    return render(request, "staff/kit.html", context)


def _list_of(shown: Outing, user: User, now: datetime) -> dict[str, Any]:
    over = shown.date < shown.site.local_date(now)
    return {
        "outing": shown,
        "site": shown.site,
        "kits": outing_kit(shown, reader=user),
        "uses": shown.site.rules.syringe_uses,
        "files": [static(name) for name in FILES] if settings.PHONE_WORKER else [],
        "now": now,
        "over": over,
        "open": shown.cancelled_at is None and not over and may_tick(user, shown),
    }


@page(OFFICER, LEAD, MEMBER)
@require_POST
def kit_ticked(request: HttpRequest, pk: int) -> HttpResponse:
    """Answers the script in JSON with what stands now or why it was refused, and a plain form with the list again."""
    user, now = signed_in(request), timezone.now()
    shown = get_object_or_404(outings_visible_to(user), pk=pk)
    act = partial(_tick, request.POST, user, shown, now)
    if request.headers.get("Accept") == "application/json":
        return _in_json(tried(act))
    back = reverse("kit", args=[pk])
    return pressed(request, act, After(back=back, done=_ticked_words, then=partial(_at_the_tick, back)))


def _at_the_tick(back: str, tick: KitTick) -> str:
    return f"{back}#{tick.item}-{tick.crew_id}"


def _ticked_words(tick: KitTick) -> list[tuple[int, str]]:
    if not kit_complete(tick.crew):
        return []
    words = _("Everything on this list is there: %(crew)s.") % {"crew": tick.crew.name}
    return [(messages.SUCCESS, words)]


def _in_json(outcome: Outcome[KitTick]) -> JsonResponse:
    if outcome.refused is not None:
        refused = outcome.refused
        said = {"code": refused.code, "message": refused.message, "fields": refused.fields}
        return JsonResponse(said, status=outcome.status)
    tick = cast(KitTick, outcome.made)
    return JsonResponse({"item": tick.item, "there": tick.there, "ticked_at": tick.ticked_at})


def _tick(sent: QueryDict, user: User, outing: Outing, now: datetime) -> KitTick:
    form = KitTickForm(sent, outing=outing)
    if not form.is_valid():
        raise Invalid({name: " ".join(map(str, faults)) for name, faults in form.errors.items()})
    said = form.cleaned_data
    if said["account"] not in (None, user.pk):
        words = _("This was ticked under another account; it is kept until that account signs in here.")
        raise Conflict(words, code="other-account")
    return kit_tick(
        actor=user,
        outing=outing,
        crew=said["crew"],
        item=said["item"],
        there=said["there"],
        ticked_at=said["ticked_at"] or now,
        now=now,
    )


@require_safe
@never_cache
@login_not_required
def kit_worker(_request: HttpRequest) -> HttpResponse:
    """The worker of the kit pages; with PHONE_WORKER=off it takes itself and the copies away, never what is unsent."""
    path = finders.find("staff/kit_worker.js")
    if not isinstance(path, str):
        raise FileNotFoundError("staff/kit_worker.js is missing from the static files")
    said = {"on": settings.PHONE_WORKER, "files": [static(name) for name in FILES]}
    text = f"const KIT = {json.dumps(said)};\n{Path(path).read_text()}"
    return HttpResponse(text, content_type="text/javascript; charset=utf-8")


@page(OFFICER, LIAISON)
@require_safe
def campaign_totals(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(campaigns_visible_to(signed_in(request)), pk=pk)
    context = {"campaign": row, "site": row.site, "kit": campaign_kit(row)}
    return render(request, "staff/campaign_kit.html", context)
