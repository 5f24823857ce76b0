"""What this account did last to a roster and may take back. It lies in the session: it is nobody else's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.http import HttpRequest

from staff.models import Assignment, Crew, Person, Site
from staff.services.roster_changes import Place, Seat, changed_since

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
