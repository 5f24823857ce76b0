"""A member's own page: clear or not, the coming outings, the record."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from staff.doors.page import MEMBER, page, signed_in
from staff.pages.people import record_context
from staff.selectors.access import outings_visible_to, own_person
from staff.selectors.roster import outing_list
from staff.selectors.standing import standing


@page(MEMBER)
def me(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    person = own_person(user)
    if person is None:
        raise Http404
    shown = standing(person, person.site.local_date(now))
    own = outings_visible_to(user).filter(assignments__person=person)
    coming = outing_list(own, now).coming
    places = {
        row.outing_id: row for row in person.assignments.filter(outing__in=coming).select_related("crew")
    }
    context = record_context(user, shown) | {"outings": [(row, places.get(row.pk)) for row in coming]}
    return render(request, "staff/me.html", context)
