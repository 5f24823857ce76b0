"""One vaccination session: its list, who really came, and calling it off."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.forms.sessions import GivenForm, SessionCancelForm, name_of
from staff.models import Session
from staff.doors.form import attempt, form_page
from staff.pages.campaigns import sheet_of
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.selectors.access import sessions_kept_by
from staff.selectors.sessions import session_lines, unplanned_people
from staff.services.audit import audit_look, audit_write
from staff.services.campaigns import session_cancel
from staff.services.sessions import Recorded, session_record


@page(OFFICER, LIAISON)
def session(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(sessions_kept_by(user), pk=pk)
    audit_write(actor=user, action="session.seen", now=now, site=row.site, target=f"session:{pk}")
    context = {
        "sheet": sheet_of(row),
        "session": row,
        "site": row.site,
        "planned": row.state == Session.State.PLANNED,
        "recordable": row.state != Session.State.CANCELLED and row.held_on <= row.site.local_date(now),
    }
    return render(request, "staff/session.html", context)


@page(OFFICER, LIAISON)
def session_given(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(sessions_kept_by(user), pk=pk)
    if request.method != "POST":
        audit_write(actor=user, action="session.seen", now=now, site=row.site, target=f"session:{pk} given")
    form = GivenForm(request.POST or None, session=row, lines=session_lines(row), by=user)
    done: list[Recorded] = []

    def record(_data: dict[str, Any]) -> None:
        done.append(session_record(actor=user, session=row, notes=form.notes(), now=now))

    named = unplanned_people(row, form.came_unplanned()) if form.is_valid() else []
    for one in named:
        if one.take.doubt:
            form.add_error(f"{one.row}-number", one.take.doubt)
    mark = " ".join(f"{one.row}={one.person.pk}={one.take.number}" for one in named)
    # Nothing is kept before whoever came unplanned was shown by name.
    unseen = bool(named) and form.is_valid() and request.POST.get("named") != mark
    for one in named if unseen else ():
        audit_look(viewer=user, person=one.person, now=now, target=f"session:{pk} given")
    status = attempt(form, record) if request.method == "POST" and not unseen else 200
    if done:
        _tell(request, row, done[0])
        return redirect("session", pk=pk)
    if status:
        # What somebody else noted meanwhile shows as on record.
        form.look_again(session_lines(row))
    context = {
        "form": form,
        "session": row,
        "site": row.site,
        "team": map(name_of, row.site.people.exclude(session_places__session=row).exclude(user=user)),
        "named": named if unseen else [],
        "mark": mark,
    }
    return render(request, "staff/session_given.html", context, status=status)


def _tell(request: HttpRequest, session: Session, done: Recorded) -> None:
    words = _("Kept. No new dose was noted.")
    if done.doses:
        words = ngettext("%(n)d dose is on record.", "%(n)d doses are on record.", done.doses)
    messages.success(request, words % {"n": done.doses})
    given = {place.pk for place in done.given}
    for line in session_lines(session):
        if line.place.pk in given and line.uncounted:
            messages.warning(
                request,
                _("The dose of %(person)s is on record and doesn't count: %(why)s Ask the clinician.")
                % {"person": line.place.person.name, "why": line.uncounted},
            )


@page(OFFICER, LIAISON)
def session_off(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(sessions_kept_by(user), pk=pk)
    return form_page(
        request,
        SessionCancelForm(request.POST or None),
        lambda data: session_cancel(actor=user, session=row, reason=data["reason"], now=now),
        title=_("Cancel the session of %(day)s") % {"day": row.held_on.isoformat()},
        submit=_("Cancel the session"),
        back=reverse("campaign", args=[row.campaign_id]),
        done=_("The session is cancelled. Propose sessions again for those who were expected."),
    )
