"""The site's holidays: which days clinics keep their holiday hours."""

from __future__ import annotations

from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from staff.doors.form import After, form_page, pressed
from staff.doors.page import OFFICER, page, signed_in
from staff.forms.site.holidays import HolidayForm
from staff.models import Site
from staff.selectors.access import Role, sites_as
from staff.services.site.holidays import holiday_add, holiday_remove


@never_cache
@page(OFFICER)
def holidays(request: HttpRequest, code: str) -> HttpResponse:
    """The coming ones, and a form for one more."""
    user, now, site = signed_in(request), timezone.now(), _site(request, code)
    return form_page(
        request,
        HolidayForm(request.POST or None),
        lambda said: holiday_add(actor=user, site=site, now=now, **said),
        _back(site, _("The date is on the calendar.")),
        template="staff/holidays.html",
        around=lambda: {"site": site, "holidays": site.holidays.filter(date__gte=site.local_date(now))},
    )


def _site(request: HttpRequest, code: str) -> Site:
    return get_object_or_404(sites_as(signed_in(request), Role.OFFICER), code=code)


def _back(site: Site, words: str) -> After:
    return After(back=reverse("site-holidays", args=[site.code]), done=words)


@require_POST
@page(OFFICER)
def holiday_off(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    user, now, site = signed_in(request), timezone.now(), _site(request, code)
    holiday = get_object_or_404(site.holidays.select_related("site"), pk=pk)
    act = partial(holiday_remove, actor=user, holiday=holiday, now=now)
    return pressed(request, act, _back(site, _("The date is off the calendar.")))
