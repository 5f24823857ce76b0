"""One's own calendar feed: the link on the account page, and what programs fetch by it."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST, require_safe

from safety.emails.feed import feed_text
from safety.pages.observation import unseen
from safety.services.feed import feed_end, feed_make, feed_opened, feed_refresh
from staff.pages.doors import ANYONE, page, signed_in


@require_POST
@page(ANYONE)
@sensitive_variables("made")
def making(request: HttpRequest) -> HttpResponse:
    """The address is in this answer and nowhere else: no redirect."""
    made = feed_make(user=signed_in(request), now=timezone.now())
    return render(request, "safety/calendar_made.html", {"made": made}, status=201)


@require_POST
@page(ANYONE)
def ending(request: HttpRequest) -> HttpResponse:
    feed_end(user=signed_in(request), now=timezone.now())
    messages.success(request, _("The calendar's link has ended: whoever holds it reads nothing any more."))
    return redirect("account")


@require_safe
@login_not_required
@sensitive_variables()
def feed(request: HttpRequest, code: str) -> HttpResponse:  # noqa: ARG001
    """The calendar itself, for programs that have no account here; 404 for any other address, whatever the cause."""
    now = timezone.now()
    opened = feed_opened(code=code, now=now)
    if opened is None:
        raise Http404
    entries = feed_refresh(feed=opened, now=now)
    answer = HttpResponse(
        feed_text(entries, opened.user.language), content_type="text/calendar; charset=utf-8"
    )
    answer["Content-Disposition"] = 'inline; filename="dates.ics"'
    return unseen(answer)
