"""What was done to accounts, for those it concerns, and the roles that wait for an officer."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from staff.doors.form import After, pressed
from staff.doors.page import ANYONE, OFFICER, page, signed_in
from staff.pages.lists import first_rows
from staff.selectors.access import sites_of
from staff.selectors.site.account_changes import account_changes_visible_to
from staff.selectors.site.role_offers import offers_open_to
from staff.services.site.accounts import role_answer

SHOWN = 100


@page(ANYONE)
@require_safe
def account_changes(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    home = sites_of(user).order_by("pk").first()
    changes = first_rows(request, account_changes_visible_to(user), SHOWN)
    shown = {
        "offers": offers_open_to(user),
        "changes": changes.rows,
        "more": changes.more,
        "zone": user.time_zone or (home.time_zone if home else "UTC"),
    }
    return render(request, "staff/account_changes.html", shown)


@page(OFFICER)
@require_POST
def role_answered(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, confirmed = signed_in(request), timezone.now(), "confirm" in request.POST
    offer = get_object_or_404(offers_open_to(user), pk=pk)
    done = _("The role is confirmed and holds from now on.") if confirmed else _("The role isn't given.")
    return pressed(
        request,
        lambda: role_answer(actor=user, offer=offer, confirmed=confirmed, now=now),
        After(back=reverse("account-changes"), done=done),
    )
