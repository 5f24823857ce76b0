"""What was done to accounts, for those it concerns."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from staff.doors.page import ANYONE, page, signed_in
from staff.selectors.site.account_changes import account_changes_visible_to

SHOWN = 100


@page(ANYONE)
@require_safe
def account_changes(request: HttpRequest) -> HttpResponse:
    rows = account_changes_visible_to(signed_in(request))
    changes = list(rows if "all" in request.GET else rows[: SHOWN + 1])
    more = "all" not in request.GET and len(changes) > SHOWN
    shown = {"changes": changes[:SHOWN] if more else changes, "more": more, "shown": SHOWN}
    return render(request, "staff/account_changes.html", shown)
