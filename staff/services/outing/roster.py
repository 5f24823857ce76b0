"""Who is on which crew. Nobody uncleared: the service explains, the database enforces."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import (
    Assignment,
    Clearance,
    Crew,
    Outing,
    Person,
    User,
    Withdrawal,
)
from staff.selectors.record.readiness import clearance_on
from staff.services.audit import audit_write
from staff.services.outing.crews import check_roster_open
from staff.services.outing.refusals import (
    already_on,
    booked_twice,
    check_assignment,
    elsewhere_on,
    explain_guard,
    refusal,
)
from staff.services.record.clearance import (
    clearance_catch_up,
    lock_outing,
    lock_person,
    need_reason,
    withdraw,
)


@retried
def roster_assign(
    *,
    actor: User,
    outing: Outing,
    crew: Crew,
    person: Person,
    role: str,
    now: datetime,
) -> Assignment:
    """Put a person on a crew.

    Raises `NotCleared` with the reasons when the person isn't clear on the outing's date, `Conflict` when the
    outing is over, cancelled, or has the person already, or another outing of that day has, `Invalid` for what
    doesn't belong together.
    """
    with transaction.atomic():
        person, outing = lock_person(person.pk), lock_outing(outing.pk)
        today = outing.site.local_date(now)
        check_assignment(outing, crew, person, role, today)
        check_roster_open(crew.pk)
        cover = need_cover(person=person, outing=outing, now=now)
        if Assignment.objects.filter(outing=outing, person=person).exists():
            raise already_on(person)
        if other := elsewhere_on(person, outing, outing.date):
            raise booked_twice(person, other)
        row = Assignment(outing=outing, crew=crew, person=person, role=role, clearance=cover)
        row.assigned_by, row.assigned_at = actor, now
        assignment = _put_on(row)
        audit_write(
            actor=actor,
            action="roster.assigned",
            now=now,
            person=person,
            target=f"outing:{outing.pk}",
            role=role,
        )
    return assignment


def need_cover(*, person: Person, outing: Outing, now: datetime) -> Clearance:
    """The stored clearance that somebody's place on the outing may rest on, both locked; refuses with the reasons when
    stored clearance and record don't both allow the date."""
    clearance_catch_up(person=person, now=now)
    cover = clearance_on(person, outing.date)
    if cover is None:
        raise refusal(person, outing.date, outing.site.local_date(now))
    return cover


def _put_on(row: Assignment) -> Assignment:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        today = row.outing.site.local_date(row.assigned_at)
        raise explain_guard(error, row.person, row.outing, today) from error
    return row


@retried
def roster_withdraw(*, actor: User, assignment: Assignment, reason: str, now: datetime) -> Withdrawal:
    """Take a person off by hand, with a reason; refused once the outing is over."""
    reason = within(need_reason(reason), Withdrawal, "reason")
    with transaction.atomic():
        lock_person(assignment.person_id)
        outing = lock_outing(assignment.outing_id)
        if outing.date < outing.site.local_date(now):
            raise Conflict(_("This outing is over; its roster is history."), code="outing-over")
        if not Assignment.objects.filter(pk=assignment.pk).exists():
            raise Conflict(_("This person is off the roster already."), code="already-withdrawn")
        check_roster_open(assignment.crew_id)
        row = withdraw(assignment, reason=reason, now=now, actor=actor)
        audit_write(
            actor=actor,
            action="roster.withdrawn",
            now=now,
            person=assignment.person,
            target=f"outing:{assignment.outing_id}",
            reason=reason,
        )
    return row
