"""Who a crew needs at a site, and the days people asked for."""

from __future__ import annotations

from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from staff.doors.form import After, Outcome, attempt, form_page, pressed, told
from staff.doors.page import MEMBER, OFFICER, page, signed_in
from staff.forms.outing.roster import CrewShapeForm, WishForm
from staff.models import Method, Person, Site
from staff.selectors.access import Role, sites_as, wishes_open_to
from staff.selectors.outing.roster import site_shape
from staff.services.outing.roster_rules import crew_shape_set, wish_add, wish_remove


@page(OFFICER)
def crew_shapes(request: HttpRequest, code: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    site = get_object_or_404(sites_as(user, Role.OFFICER), code=code)
    posted = request.POST.get("method", "")
    shown = {method: _shape_form(request, site, method, posted) for method in Method.values}
    form, outcome = shown.get(posted), Outcome[None]()
    if form is not None:
        act = partial(crew_shape_set, actor=user, site=site, method=posted, now=now)
        outcome = attempt(request, form, lambda said: act(needed=said))
    if outcome.kept:
        return told(request, outcome, _shapes_kept(code))
    context = {"site": site, "shapes": list(shown.values()), "form": form}
    return render(request, "staff/crew_shapes.html", context, status=outcome.status)


def _shapes_kept(code: str) -> After:
    words = _("Saved: outings of this method ask for this crew from now on.")
    return After(back=reverse("crew-shapes", args=[code]), done=words)


def _shape_form(request: HttpRequest, site: Site, method: str, posted: str) -> CrewShapeForm:
    data = request.POST if method == posted else None
    return CrewShapeForm(data, method=method, needed=dict(site_shape(site, method)))


@page(OFFICER, MEMBER)
def wishes(request: HttpRequest, pk: int) -> HttpResponse:
    """The days somebody asked for: one's own, or of people of the site for its officer."""
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(wishes_open_to(user), pk=pk)
    coming = person.day_wishes.filter(last_on__gte=person.site.local_date(now))
    return form_page(
        request,
        WishForm(request.POST or None),
        lambda said: wish_add(actor=user, person=person, now=now, **said),
        _to_wishes(person, _("The days are noted. Whoever plans the roster sees them.")),
        template="staff/wishes.html",
        around=lambda: {"person": person, "site": person.site, "wishes": coming},
    )


def _to_wishes(person: Person, words: str) -> After:
    return After(back=reverse("wishes", args=[person.pk]), done=words)


@page(OFFICER, MEMBER)
@require_POST
def wish_off(request: HttpRequest, pk: int, wish_pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(wishes_open_to(user), pk=pk)
    wish = get_object_or_404(person.day_wishes.select_related("person__site"), pk=wish_pk)
    act = partial(wish_remove, actor=user, wish=wish, now=now)
    return pressed(request, act, _to_wishes(person, _("The wish is taken back.")))
