"""The kit of an outing: the list to print and to tick, also without network, and what a campaign needs in all."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from staff.api.errors import STATUS_OF_REFUSAL
from staff.errors import Conflict, Invalid, Refused
from staff.forms.kit import KitTickForm
from staff.models import KitTick, Outing, User
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.selectors.access import campaigns_visible_to, outings_visible_to
from staff.selectors.kit import campaign_kit, kit_complete, may_tick, outing_kit
from staff.services.kit import kit_tick

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
    over = shown.date < shown.site.local_date(now)
    context = {
        "outing": shown,
        "site": shown.site,
        "kits": outing_kit(shown, reader=user),
        "uses": shown.site.rules.syringe_uses,
        "files": [static(name) for name in FILES] if settings.PHONE_WORKER else [],
        "now": now,
        "over": over,
        "open": shown.cancelled_at is None and not over and may_tick(user, shown),
    }
    return render(request, "staff/kit.html", context | (BARE if "copy" in request.GET else {}))


@page(OFFICER, LEAD, MEMBER)
@require_POST
def kit_ticked(request: HttpRequest, pk: int) -> HttpResponse:
    """Answers the script in JSON with what stands now or why it was refused, and a plain form with the list again."""
    user, now = signed_in(request), timezone.now()
    shown = get_object_or_404(outings_visible_to(user), pk=pk)
    by_script = request.headers.get("Accept") == "application/json"
    back = reverse("kit", args=[pk])
    try:
        tick = _tick(request, user, shown, now)
    except Refused as refused:
        if by_script:
            return _refusal(refused)
        messages.error(request, refused.message)
        return redirect(back)
    if by_script:
        return JsonResponse({"item": tick.item, "there": tick.there, "ticked_at": tick.ticked_at})
    if kit_complete(tick.crew):
        messages.success(request, _("Everything on this list is there: %(crew)s.") % {"crew": tick.crew.name})
    return redirect(f"{back}#{tick.item}-{tick.crew_id}")


def _tick(request: HttpRequest, user: User, outing: Outing, now: datetime) -> KitTick:
    form = KitTickForm(request.POST, outing=outing)
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


def _refusal(refused: Refused) -> JsonResponse:
    status = next(status for kind, status in STATUS_OF_REFUSAL if isinstance(refused, kind))
    said = {"code": refused.code, "message": refused.message, "fields": refused.fields}
    return JsonResponse(said, status=status)


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
