"""The roll of a crew before it leaves, and what it changes on the roster: who is absent, who goes instead or besides."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Conflict
from safety.models import Departure, DeparturePerson
from safety.selectors.crew_day.outing_day import reads_reasons
from staff.ground.errors import NotCleared
from staff.ground.transactions import Crossed
from staff.models import Assignment, Crew, Outing, Person, User
from staff.selectors.outing.on_crews import people_on
from staff.selectors.record.readiness import readiness
from staff.services.outing.refusals import refusal
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.record.clearance import clearance_catch_up, lock_outing, lock_people, need_reason


@dataclass(frozen=True)
class Absent:
    """Somebody of the crew who isn't there, by key, why, and who goes in their place and crew role, if anybody does."""

    person: int
    why: str
    instead: Person | None = None


@dataclass(frozen=True)
class Joining:
    """Somebody who comes along besides."""

    person: Person
    role: str


@dataclass(frozen=True)
class Roll:
    """An answer for everybody on the crew: `here` by key, or absent."""

    here: frozenset[int]
    absent: tuple[Absent, ...] = ()
    joining: tuple[Joining, ...] = ()


def crew_catch_up(*, crew: Crew, now: datetime) -> None:
    """Recompute whoever of the crew waits for it, in a transaction of its own: whoever falls off shows on the roster then."""
    with transaction.atomic():
        for person in lock_people(people_on(crew=crew)):
            clearance_catch_up(person=person, now=now)


def roll_lock(*, crew: Crew, roll: Roll, now: datetime) -> Outing:
    """The outing as it is now, and nobody on the crew whose clearance waits to be recomputed.

    People are locked first and in the order of their keys, then the outing, as everywhere (see staff.services.record.clearance).
    """
    coming = [one.instead.pk for one in roll.absent if one.instead] + [one.person.pk for one in roll.joining]
    there = crew.assignments.values_list("person", flat=True)
    people = lock_people(Person.objects.filter(pk__in={*there, *coming}))
    for person in people:
        clearance_catch_up(person=person, now=now)
    outing = lock_outing(crew.outing_id)
    if crew.assignments.exclude(person__in=people).exists():
        # Somebody was put on between the two locks, and nobody looked at their clearance.
        raise Crossed
    return outing


def roll_check(*, before: list[Assignment], roll: Roll) -> None:
    """Refuse a roll that isn't an answer for everybody on the roster, once each, or leaves nobody to go."""
    absent = [one.person for one in roll.absent]
    if sorted([*roll.here, *absent]) != sorted(row.person_id for row in before):
        raise Conflict(
            _("The crew's roster changed meanwhile. Look who is on it now and answer for everybody."),
            code="crew-changed",
        )
    coming = {one.instead.pk for one in roll.absent if one.instead} | {one.person.pk for one in roll.joining}
    if coming & set(absent):
        raise Conflict(_("Somebody is named as absent and as coming along."), code="absent-and-here")
    if not roll.here and not roll.joining and not any(one.instead for one in roll.absent):
        raise Conflict(_("Nobody of this crew is here, so it doesn't leave."), code="nobody-here")


def roll_need_clear(*, actor: User, outing: Outing, roll: Roll, now: datetime) -> None:
    """Refuse to let anybody go whose record doesn't clear them, whatever the roster rests on."""
    rows = readiness(Person.objects.filter(pk__in=roll.here), outing.date, [outing.site])
    for row in rows:
        if not row.clear and reads_reasons(actor, outing.site):
            raise refusal(row.person, outing.date, outing.site.local_date(now))
        if not row.clear:
            raise _not_cleared(row.person, outing)


def roll_apply(
    *, actor: User, outing: Outing, crew: Crew, before: list[Assignment], roll: Roll, now: datetime
) -> None:
    """Everybody absent comes off the roster before anybody goes on it."""
    rows = {row.person_id: row for row in before}
    for gone in roll.absent:
        roster_withdraw(
            actor=actor, assignment=rows[gone.person], reason=need_reason(gone.why, "why"), now=now
        )
    coming = [(gone.instead, rows[gone.person].role) for gone in roll.absent if gone.instead]
    for person, role in [*coming, *((one.person, one.role) for one in roll.joining)]:
        try:
            roster_assign(actor=actor, outing=outing, crew=crew, person=person, role=role, now=now)
        except NotCleared as refused:
            if reads_reasons(actor, outing.site):
                raise
            raise _not_cleared(person, outing) from refused


def _not_cleared(person: Person, outing: Outing) -> NotCleared:
    """For who may not read why: a crew lead learns that somebody isn't clear, and nothing of the record."""
    message = _(
        "%(person)s is not clear for field work on %(date)s. Choose somebody else, or ask the officer."
    )
    words = message % {"person": person.name, "date": date_format(outing.date)}
    return NotCleared(words, reasons=(), clear_from=None)


def roll_rows(*, departure: Departure, before: list[Assignment], roll: Roll) -> list[DeparturePerson]:
    """Who was to come, there or not, and then who came besides or instead."""
    replaced = {gone.instead.pk: gone.person for gone in roll.absent if gone.instead}
    known = {row.person_id for row in before}
    rows = [
        DeparturePerson(person=row.person, role=row.role, present=row.person_id in roll.here)
        for row in before
    ]
    rows += [
        DeparturePerson(
            person=row.person, role=row.role, present=True, instead_of_id=replaced.get(row.person_id)
        )
        for row in departure.crew.assignments.select_related("person")
        if row.person_id not in known
    ]
    for row in rows:
        row.departure = departure
    return rows
