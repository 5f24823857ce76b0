"""Who a crew needs at a site, and the days people asked for."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from staff.errors import Refused
from staff.forms.roster import CrewShapeForm, WishForm
from staff.models import Method, Site
from staff.doors.form import attempt
from staff.doors.page import MEMBER, OFFICER, page, signed_in
from staff.selectors.access import Role, sites_as, wishes_open_to
from staff.selectors.roster import site_shape
from staff.services.roster_rules import crew_shape_set, wish_add, wish_remove


@page(OFFICER)
def crew_shapes(request: HttpRequest, code: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    site = get_object_or_404(sites_as(user, Role.OFFICER), code=code)
    posted, status = request.POST.get("method", ""), 200
    shown = [_shape_form(request, site, method, posted) for method in Method.values]
    form = next((form for form in shown if form.method == posted), None)
    if form is not None:
        status = attempt(
            form, lambda data: crew_shape_set(actor=user, site=site, method=posted, needed=data, now=now)
        )
        if not status:
            messages.success(request, _("Saved: outings of this method ask for this crew from now on."))
            return redirect("crew-shapes", code=code)
    context = {"site": site, "shapes": shown, "form": form}
    return render(request, "staff/crew_shapes.html", context, status=status)


def _shape_form(request: HttpRequest, site: Site, method: str, posted: str) -> CrewShapeForm:
    data = request.POST if method == posted else None
    return CrewShapeForm(data, method=method, needed=dict(site_shape(site, method)))


@page(OFFICER, MEMBER)
def wishes(request: HttpRequest, pk: int) -> HttpResponse:
    """The days somebody asked for: one's own, or of people of the site for its officer."""
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(wishes_open_to(user), pk=pk)
    form = WishForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = attempt(form, lambda data: wish_add(actor=user, person=person, now=now, **data))
        if not status:
            messages.success(request, _("The days are noted. Whoever plans the roster sees them."))
            return redirect("wishes", pk=pk)
    coming = person.day_wishes.filter(last_on__gte=person.site.local_date(now))
    context = {"person": person, "site": person.site, "form": form, "wishes": coming}
    return render(request, "staff/wishes.html", context, status=status)


@page(OFFICER, MEMBER)
@require_POST
def wish_off(request: HttpRequest, pk: int, wish_pk: int) -> HttpResponse:
    user = signed_in(request)
    person = get_object_or_404(wishes_open_to(user), pk=pk)
    wish = get_object_or_404(person.day_wishes.select_related("person__site"), pk=wish_pk)
    try:
        wish_remove(actor=user, wish=wish, now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, _("The wish is taken back."))
    return redirect("wishes", pk=pk)
