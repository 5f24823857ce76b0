"""Putting somebody on an outing: who is offered for a crew role, who isn't clear, and why."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from staff.forms.outing.outings import AssignForm
from staff.models import CrewRole, Outing, Person, User
from staff.selectors.outing.on_crews import people_on
from staff.selectors.outing.roster import people_asked_off
from staff.selectors.record.clear_from import clear_from
from staff.selectors.record.readiness import Readiness, readiness
from staff.services.audit import audit_write


def assigning(
    user: User, outing: Outing, role: str, now: datetime, form: AssignForm | None
) -> dict[str, Any]:
    """The form for one crew role: clear people are offered, the others listed with the reason."""
    people = Person.objects.filter(site=outing.site, crew_roles__role=role)
    rows = readiness(people.exclude(pk__in=people_on(outing=outing)), outing.date, [outing.site])
    offered = [row.person for row in rows if row.clear]
    refused = [row for row in rows if not row.clear]
    _note_look(user, outing, refused, now)
    asked_off = people_asked_off(outing)
    fresh = AssignForm(outing=outing, clear=offered, asked_off=asked_off, initial={"role": role})
    if form is not None:
        form.fields["person"].widget = fresh.fields["person"].widget
    return {
        "assign_form": form or fresh,
        "offered": offered,
        "refused": list(zip(refused, clear_from(refused, outing.site.local_date(now)), strict=True)),
        "role": role,
        "role_name": CrewRole(role).label,
        "crew_roles": CrewRole.choices,
    }


def _note_look(user: User, outing: Outing, refused: Sequence[Readiness], now: datetime) -> None:
    if refused:
        audit_write(actor=user, action="board.seen", now=now, site=outing.site, target=f"outing:{outing.pk}")
