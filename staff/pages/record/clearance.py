"""Why one person is or isn't clear on a date, and what would change it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from staff.doors.page import LIAISON, MEMBER, OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.forms.outing.board import OnForm
from staff.selectors.access import records_visible_to
from staff.selectors.record.explained import clearance_explained
from staff.services.audit import audit_look


@page(OFFICER, LIAISON, MEMBER)
def person_clearance(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(records_visible_to(user), pk=pk)
    today = person.site.local_date(now)
    form = OnForm({"on": today.isoformat(), **request.GET.dict()})
    audit_look(viewer=user, person=person, now=now, target="clearance")
    explained = clearance_explained(
        person, on=form.cleaned_data["on"] if form.is_valid() else today, today=today
    )
    context = {"form": form, "person": person, "site": person.site, "explained": explained}
    return render(request, "staff/clearance.html", context, status=INVALID if form.errors else 200)
