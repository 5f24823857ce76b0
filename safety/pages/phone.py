"""The phone's page and its worker: open to all, for the wash clock needs no account and no password."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

WORKER, WORKER_OFF = "phone/worker.js", "phone/worker_off.js"


@require_safe
@login_not_required
def phone(request: HttpRequest) -> HttpResponse:
    """The same page for everybody: whose phone it is stands in the address's fragment, which no server sees."""
    return render(request, "safety/phone.html")


@require_safe
@never_cache
@login_not_required
def worker(_request: HttpRequest) -> HttpResponse:
    """The worker of /phone/; with PHONE_WORKER=off the one that takes itself and its cache away, never the outbox."""
    found = finders.find(WORKER if settings.PHONE_WORKER else WORKER_OFF)
    if found is None:
        raise Http404
    with open(found, encoding="utf-8") as file:
        return HttpResponse(file.read(), content_type="text/javascript; charset=utf-8")
