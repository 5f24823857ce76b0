"""The phone's page and its worker: open to all, for the wash clock needs no account and no password."""

from __future__ import annotations

from dataclasses import asdict

from csp.decorators import csp_exempt
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import conditional_page, require_safe

from safety.pages.phone.phone_choices import phone_choices
from safety.pages.phone.phone_files import TYPES, WORKER, WORKER_OFF, phone_file, shell
from safety.pages.phone.phone_words import phone_words
from safety.rules.case.washing import WASH_MINUTES
from safety.services.phone.keys import public_keys


@require_safe
@gzip_page
@conditional_page
@login_not_required
def phone(request: HttpRequest) -> HttpResponse:
    """The same page for everybody: whose phone it is stands in the address's fragment, which no server sees.

    The public keys come along, so that whoever loses the network right after the first visit can still seal.
    """
    kept = shell()
    keys = [asdict(key) for key in public_keys(now=timezone.now())]
    words = {
        "words": phone_words(),
        "choices": phone_choices(),
        "seed": {"keys": keys, "wash_minutes": WASH_MINUTES},
    }
    context = {
        "words": words,
        "css": kept.address("phone.css"),
        "first": kept.address("first.js"),
        "app": kept.address("app.js"),
        "modules": [kept.address(name) for name in kept.names if name.endswith(".js") and name != "first.js"],
    }
    response = render(request, "safety/phone.html", context)
    response["Cache-Control"] = "no-cache"
    return response


@require_safe
@never_cache
@gzip_page
@login_not_required
def worker(_request: HttpRequest) -> HttpResponse:
    """The worker of /phone/; with PHONE_WORKER=off the one that takes itself and its cache away, never the outbox."""
    name, lead = (WORKER, shell().for_worker()) if settings.PHONE_WORKER else (WORKER_OFF, "")
    text = phone_file(name)
    if text is None:
        raise Http404
    return HttpResponse(lead + text.decode(), content_type=TYPES[".js"])


@require_safe
@gzip_page
@csp_exempt()  # type: ignore[arg-type]  # its hint knows only views without arguments
@login_not_required
def file(_request: HttpRequest, version: str, name: str) -> HttpResponse:
    """A file of the page. Asked for under an older version, the present one: a page half loaded must still run.

    The page's own policy rules its scripts and styles; said again with each file it would be a tenth of the visit.
    """
    text = phone_file(name)
    if text is None or name in {WORKER, WORKER_OFF}:
        raise Http404
    response = HttpResponse(text, content_type=TYPES[name[name.rindex(".") :]])
    current = version == shell().version
    response["Cache-Control"] = "public, max-age=31536000, immutable" if current else "no-store"
    return response
