"""The site's holidays: which days clinics keep their holiday hours."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from staff.forms.holidays import HolidayForm
from staff.doors.form import attempt
from staff.doors.page import OFFICER, page, signed_in
from staff.selectors.access import Role, sites_as
from staff.services.holidays import holiday_add, holiday_remove


@never_cache
@page(OFFICER)
def holidays(request: HttpRequest, code: str) -> HttpResponse:
    """The coming ones, and a form for one more."""
    user, now = signed_in(request), timezone.now()
    site = get_object_or_404(sites_as(user, Role.OFFICER), code=code)
    form = HolidayForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = attempt(form, lambda data: holiday_add(actor=user, site=site, now=now, **data))
        if not status:
            messages.success(request, _("The date is on the calendar."))
            return redirect("site-holidays", code=code)
    coming = site.holidays.filter(date__gte=site.local_date(now))
    context = {"site": site, "form": form, "holidays": coming}
    return render(request, "staff/holidays.html", context, status=status)


@require_POST
@page(OFFICER)
def holiday_off(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    user = signed_in(request)
    site = get_object_or_404(sites_as(user, Role.OFFICER), code=code)
    holiday = get_object_or_404(site.holidays.select_related("site"), pk=pk)
    holiday_remove(actor=user, holiday=holiday, now=timezone.now())
    messages.success(request, _("The date is off the calendar."))
    return redirect("site-holidays", code=code)
