"""A member's own page: clear or not, the coming outings, the record."""

from __future__ import annotations

from datetime import datetime

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from staff.doors.page import MEMBER, page, signed_in
from staff.models import Assignment, Outing, Person, User
from staff.pages.record.people import record_context
from staff.selectors.access import outings_visible_to, own_person
from staff.selectors.outing.on_crews import outings_of
from staff.selectors.outing.roster import outing_list
from staff.selectors.record.record_sheet import record_sheet


@page(MEMBER)
def me(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    person = own_person(user)
    if person is None:
        raise Http404
    shown = record_sheet(person, person.site.local_date(now))
    context = record_context(user, shown) | {"outings": _coming(user, person, now)}
    return render(request, "staff/me.html", context)


def _coming(user: User, person: Person, now: datetime) -> list[tuple[Outing, Assignment | None]]:
    """The coming outings of the person, each with the own place on it."""
    own = outings_visible_to(user).filter(pk__in=outings_of(person=person))
    coming = outing_list(own, now).coming
    held = person.assignments.filter(outing__in=coming).select_related("crew")
    places = {row.outing_id: row for row in held}
    return [(row, places.get(row.pk)) for row in coming]
