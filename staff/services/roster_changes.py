"""Changing places on rosters in one go, and taking such a change back. All of it happens or none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from staff.errors import Conflict
from staff.models import Assignment, Crew, Person, User
from staff.services.clearance import lock_people
from staff.services.roster import roster_assign, roster_withdraw
from staff.services.transactions import retried


@dataclass(frozen=True)
class Seat:
    """A person in one crew role of one crew."""

    crew: Crew
    person: Person
    role: str


@retried
def roster_replace(
    *, actor: User, assignment: Assignment, seat: Seat, reason: str, now: datetime
) -> Assignment:
    """Take `assignment` off, with the reason, and put somebody, perhaps the same person, on `seat`.

    Raises what `roster_assign` and `roster_withdraw` raise; then the roster is as it was.
    """
    with transaction.atomic():
        lock_people(Person.objects.filter(pk__in={assignment.person_id, seat.person.pk}))
        roster_withdraw(actor=actor, assignment=assignment, reason=reason, now=now)
        return _seat(actor, seat, now)


@retried
def roster_restore(
    *, actor: User, made: Sequence[int], gone: Sequence[Seat], reason: str, now: datetime
) -> list[Assignment]:
    """Take a change back: the assignments it made (by key) go, and who it took off comes back, all or nobody.

    Raises `Conflict` when one of its assignments is gone already, and what `roster_assign` raises when somebody
    may not come back.
    """
    with transaction.atomic():
        lock_people(
            Person.objects.filter(Q(assignments__in=made) | Q(pk__in=[seat.person.pk for seat in gone]))
        )
        rows = list(
            Assignment.objects.filter(pk__in=made)
            .select_related("outing__site", "crew", "person")
            .order_by("pk")
        )
        if len(rows) != len(set(made)):
            raise changed_since()
        for row in rows:
            roster_withdraw(actor=actor, assignment=row, reason=reason, now=now)
        return [_seat(actor, seat, now) for seat in gone]


def changed_since() -> Conflict:
    return Conflict(
        _("The roster has changed since; this step can't be undone any more."), code="changed-since"
    )


def _seat(actor: User, seat: Seat, now: datetime) -> Assignment:
    return roster_assign(
        actor=actor, outing=seat.crew.outing, crew=seat.crew, person=seat.person, role=seat.role, now=now
    )
