"""Changing places on rosters in one go, and taking such a change back. All of it happens or none."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict
from staff.ground.transactions import retried
from staff.models import Assignment, Crew, Person, User
from staff.selectors.outing.on_crews import people_on
from staff.services.audit import audit_write
from staff.services.outing.crews import check_roster_open
from staff.services.outing.refusals import check_assignment, explain_guard
from staff.services.outing.roster import need_cover, roster_assign, roster_withdraw
from staff.services.record.clearance import lock_outing, lock_people, lock_person, need_reason

# An assignment by key, with its crew's key and its crew role.
Place = tuple[int, int, str]


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
    """Take `assignment` off, with the reason, and put somebody on `seat`.

    The same person within the outing stays on it and only changes seats: nobody is told to be off, and what they
    haven't heard yet, such as a move, is still to be told. Raises what `roster_assign` and `roster_withdraw` raise; then
    the roster is as it was.
    """
    with transaction.atomic():
        lock_people(Person.objects.filter(pk__in={assignment.person_id, seat.person.pk}))
        if _stays(assignment, seat):
            return roster_reseat(actor=actor, assignment=assignment, seat=seat, reason=reason, now=now)
        roster_withdraw(actor=actor, assignment=assignment, reason=reason, now=now)
        return _seat(actor, seat, now)


def _stays(row: Assignment, seat: Seat) -> bool:
    return (row.person_id, row.outing_id) == (seat.person.pk, seat.crew.outing_id)


@retried
def roster_reseat(
    *, actor: User, assignment: Assignment, seat: Seat, reason: str, now: datetime
) -> Assignment:
    """Another crew or crew role for somebody on an outing; since when they are on it stays as it is.

    Raises what `roster_assign` raises, and `Conflict` when they are off the roster already.
    """
    reason = need_reason(reason)
    with transaction.atomic():
        person = lock_person(assignment.person_id)
        outing = lock_outing(assignment.outing_id)
        today = outing.site.local_date(now)
        check_assignment(outing, seat.crew, person, seat.role, today)
        row = Assignment.objects.filter(pk=assignment.pk, outing=outing, person=person).first()
        if row is None:
            raise Conflict(_("This person is off the roster already."), code="already-withdrawn")
        for crew in (row.crew_id, seat.crew.pk):
            check_roster_open(crew)
        cover = need_cover(person=person, outing=outing, now=now)
        old = [row.crew_id, row.role]
        row.outing, row.person, row.clearance = outing, person, cover
        row.crew, row.role, row.assigned_by, row.proposed = seat.crew, seat.role, actor, False
        try:
            with transaction.atomic():
                row.save(update_fields=["crew", "role", "assigned_by", "proposed", "clearance"])
        except IntegrityError as error:
            raise explain_guard(error, person, outing, today) from error
        audit_write(
            actor=actor,
            action="roster.reseated",
            now=now,
            person=person,
            target=f"outing:{outing.pk}",
            old=old,
            new=[row.crew_id, row.role],
            reason=reason,
        )
    return row


@retried
def roster_restore(
    *,
    actor: User,
    made: Sequence[int],
    gone: Sequence[Seat],
    reason: str,
    now: datetime,
    stood: Collection[Place] = (),
) -> list[Assignment]:
    """Take a change back: the assignments it made (by key) go, and who it took off comes back, all or nobody.

    Whoever it only gave another seat on their outing gets the old one back. `stood`: where the change left its
    assignments, if that is known. Raises `Conflict` when one of them is gone or elsewhere by now, and what
    `roster_assign` raises when somebody may not come back.
    """
    with transaction.atomic():
        lock_people(people_on(pk__in=made) | Person.objects.filter(pk__in=[seat.person.pk for seat in gone]))
        rows = list(
            Assignment.objects.filter(pk__in=made)
            .select_related("outing__site", "crew", "person")
            .order_by("pk")
        )
        there = {(row.pk, row.crew_id, row.role) for row in rows}
        if len(rows) != len(set(made)) or not there.issuperset(stood):
            raise changed_since()
        back = {(seat.person.pk, seat.crew.outing_id): seat for seat in gone}
        for row in rows:
            if (row.person_id, row.outing_id) not in back:
                roster_withdraw(actor=actor, assignment=row, reason=reason, now=now)
        stayed = {(row.person_id, row.outing_id): row for row in rows}
        return [_seat_back(actor, seat, stayed, reason, now) for seat in gone]


def changed_since() -> Conflict:
    return Conflict(
        _("The roster has changed since; this step can't be undone any more."), code="changed-since"
    )


def _seat_back(
    actor: User, seat: Seat, stayed: Mapping[tuple[int, int], Assignment], reason: str, now: datetime
) -> Assignment:
    row = stayed.get((seat.person.pk, seat.crew.outing_id))
    if row is None:
        return _seat(actor, seat, now)
    return roster_reseat(actor=actor, assignment=row, seat=seat, reason=reason, now=now)


def _seat(actor: User, seat: Seat, now: datetime) -> Assignment:
    return roster_assign(
        actor=actor, outing=seat.crew.outing, crew=seat.crew, person=seat.person, role=seat.role, now=now
    )
