"""One vaccination session: its list, who really came, and calling it off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.doors.form import After, Outcome, Step, attempt, form_page, told
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.forms.campaign.sessions import GivenForm, SessionCancelForm, name_of
from staff.models import Session, User
from staff.pages.campaign.campaigns import sheet_of
from staff.selectors.access import sessions_kept_by
from staff.selectors.campaign.sessions import Unplanned, session_lines, unplanned_people
from staff.services.audit import audit_look, audit_write
from staff.services.campaign.campaigns import session_cancel
from staff.services.campaign.sessions import Recorded, session_record


@page(OFFICER, LIAISON)
def session(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(sessions_kept_by(user), pk=pk)
    audit_write(actor=user, action="session.seen", now=now, site=row.site, target=f"session:{pk}")
    recordable = row.state != Session.State.CANCELLED and row.held_on <= row.site.local_date(now)
    context = {"session": row, "site": row.site, "sheet": sheet_of(row), "recordable": recordable}
    context["planned"] = row.state == Session.State.PLANNED
    return render(request, "staff/session.html", context)


@page(OFFICER, LIAISON)
def session_given(request: HttpRequest, pk: int) -> HttpResponse:
    """Nothing is kept before whoever came unplanned was shown by name."""
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(sessions_kept_by(user), pk=pk)
    form = GivenForm(request.POST or None, session=row, lines=session_lines(row), by=user)
    named = _came_unplanned(row, form)
    unseen = named if form.is_valid() and request.POST.get("named", "") != _mark(named) else []
    _note_looks(request, row, unseen, now)
    outcome: Outcome[Recorded] = Outcome()
    if not unseen:
        act = partial(session_record, actor=user, session=row, now=now)
        outcome = attempt(request, form, lambda _said: act(notes=form.notes()))
    if outcome.kept:
        return told(request, outcome, _given_words(row))
    context = _given(row, form, user) | {"named": unseen, "mark": _mark(named)}
    return render(request, "staff/session_given.html", context, status=outcome.status)


def _given_words(row: Session) -> After:
    return After(back=reverse("session", args=[row.pk]), done=lambda done: _said(row, done))


def _came_unplanned(row: Session, form: GivenForm) -> list[Unplanned]:
    """Who came and wasn't on the list, by name; what makes a number doubtful stands at its field."""
    named = unplanned_people(row, form.came_unplanned()) if form.is_valid() else []
    for one in named:
        if one.take.doubt:
            form.add_error(f"{one.row}-number", one.take.doubt)
    return named


def _mark(named: Sequence[Unplanned]) -> str:
    """The same for the same people under the same numbers."""
    return " ".join(f"{one.row}={one.person.pk}={one.take.number}" for one in named)


def _note_looks(request: HttpRequest, row: Session, named: Sequence[Unplanned], now: datetime) -> None:
    user, target = signed_in(request), f"session:{row.pk} given"
    if request.method != "POST":
        audit_write(actor=user, action="session.seen", now=now, site=row.site, target=target)
    for one in named:
        audit_look(viewer=user, person=one.person, now=now, target=target)


def _given(row: Session, form: GivenForm, user: User) -> dict[str, Any]:
    # What somebody else noted meanwhile shows as on record.
    form.look_again(session_lines(row))
    team = row.site.people.exclude(session_places__session=row).exclude(user=user)
    return {"form": form, "session": row, "site": row.site, "team": map(name_of, team)}


def _said(session: Session, done: Recorded) -> list[tuple[int, str]]:
    words = _("Kept. No new dose was noted.")
    if done.doses:
        words = ngettext("%(n)d dose is on record.", "%(n)d doses are on record.", done.doses)
    given = {place.pk for place in done.given}
    uncounted = _("The dose of %(person)s is on record and doesn't count: %(why)s Ask the clinician.")
    return [(messages.SUCCESS, words % {"n": done.doses})] + [
        (messages.WARNING, uncounted % {"person": line.place.person.name, "why": line.uncounted})
        for line in session_lines(session)
        if line.place.pk in given and line.uncounted
    ]


@page(OFFICER, LIAISON)
def session_off(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(sessions_kept_by(user), pk=pk)
    return form_page(
        request,
        SessionCancelForm(request.POST or None),
        lambda data: session_cancel(actor=user, session=row, reason=data["reason"], now=now),
        _session_off_step(row),
    )


def _session_off_step(row: Session) -> Step:
    return Step(
        title=_("Cancel the session of %(day)s") % {"day": row.held_on.isoformat()},
        submit=_("Cancel the session"),
        back=reverse("campaign", args=[row.campaign_id]),
        done=_("The session is cancelled. Propose sessions again for those who were expected."),
    )
