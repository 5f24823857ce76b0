"""Undo, and what this account did last to a roster. It lies in the session: it is nobody else's."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from staff.doors.form import tried
from staff.doors.page import OFFICER, page, signed_in
from staff.ground.errors import Refused
from staff.models import Assignment, Crew, Person, Site, User
from staff.pages.outing.roster_days import days_asked
from staff.services.outing.roster_changes import Place, Seat, changed_since, roster_restore

KEY, MOST = "roster_steps", 20


def remember(
    request: HttpRequest,
    site: Site,
    words: str,
    *,
    made: Sequence[Assignment] = (),
    gone: Sequence[Seat] = (),
) -> None:
    """Note a change: `made` assignments go and `gone` people come back when it is undone.

    Where they stood is noted too: somebody may get another seat meanwhile and keeps the same row.
    """
    step = {
        "site": site.pk,
        "words": words,
        "made": [row.pk for row in made],
        "stood": [[row.pk, row.crew_id, row.role] for row in made],
        "gone": [[seat.crew.pk, seat.person.pk, seat.role] for seat in gone],
    }
    request.session[KEY] = [*_steps(request), step][-MOST:]


def last_step(request: HttpRequest, site: Site) -> dict[str, Any] | None:
    return next((step for step in reversed(_steps(request)) if step["site"] == site.pk), None)


def forget(request: HttpRequest, step: dict[str, Any]) -> None:
    steps = _steps(request)
    steps.remove(step)
    request.session[KEY] = steps


def forget_all(request: HttpRequest, site: Site) -> None:
    """Nothing of the site can be taken back any more: the roster isn't what these steps left."""
    request.session[KEY] = [step for step in _steps(request) if step["site"] != site.pk]


def seats_of(step: dict[str, Any], site: Site) -> list[Seat]:
    """Who comes back where. Raises `Conflict` when a crew or person of the site isn't there any more."""
    crews = Crew.objects.filter(outing__site=site).select_related("outing__site__rules")
    people = Person.objects.filter(site=site).select_related("site__rules")
    try:
        return [Seat(crews.get(pk=crew), people.get(pk=person), role) for crew, person, role in step["gone"]]
    except ObjectDoesNotExist as error:
        raise changed_since() from error


def places_of(step: dict[str, Any]) -> list[Place]:
    """Where the change left its assignments."""
    return [(key, crew, role) for key, crew, role in step.get("stood", [])]


def seat_of(row: Assignment) -> Seat:
    return Seat(row.crew, row.person, row.role)


def _steps(request: HttpRequest) -> list[dict[str, Any]]:
    return list(request.session.get(KEY, []))


@page(OFFICER)
@require_POST
def undo(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    _form, asked = days_asked(request, now)
    if asked is None:
        return redirect("roster-grid")
    step = last_step(request, asked.site)
    if step is None:
        messages.error(request, _("There is nothing to undo."))
        return redirect(asked.grid)
    outcome = tried(partial(_undone, signed_in(request), asked.site, step, now))
    if outcome.kept:
        forget(request, step)
        messages.success(request, _("Undone: %(step)s") % {"step": step["words"]})
    elif outcome.refused is not None:
        _not_undone(request, asked.site, outcome.refused)
    return redirect(asked.grid)


def _undone(user: User, site: Site, step: dict[str, Any], now: datetime) -> None:
    roster_restore(
        actor=user,
        made=step["made"],
        gone=seats_of(step, site),
        stood=places_of(step),
        reason=_("Undone by the person who made the change."),
        now=now,
    )


def _not_undone(request: HttpRequest, site: Site, refused: Refused) -> None:
    # It stays the last step: the next press must not take back an earlier one in its place.
    if refused.code == "changed-since":
        forget_all(request, site)
    messages.error(request, refused.message)
