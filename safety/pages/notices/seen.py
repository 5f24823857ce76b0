"""The page behind a mail's second link: one button by which its reader says that it was seen."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from safety.emails.seen import notice_of_token
from safety.models import Notice
from safety.services.notices.acknowledging import notice_acknowledge
from staff.doors.page import open_page
from staff.doors.retry import acting


# What the address holds is the whole right to press the button, so a browser that keeps no cookies may press it too.
@csrf_exempt
@never_cache
@open_page
@require_http_methods(["GET", "HEAD", "POST"])
def seen(request: HttpRequest, token: str) -> HttpResponse:
    """Looking changes nothing, for mail scanners follow links; only the button does."""
    notice = notice_of_token(token)
    if notice is None:
        raise Http404
    if request.method == "POST":
        acting(notice_acknowledge, notice=notice, now=timezone.now())
        notice.refresh_from_db()
    with translation.override(notice.language):
        return _shown(request, notice)


def _shown(request: HttpRequest, notice: Notice) -> HttpResponse:
    withdrawn = notice.state == Notice.State.WITHDRAWN
    context = {"notice": notice, "withdrawn": withdrawn, "site": notice.site}
    response = render(request, "safety/seen.html", context)
    response["Referrer-Policy"] = "no-referrer"
    response["Content-Language"] = notice.language
    return response
