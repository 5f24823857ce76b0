"""Putting a proposed roster into effect: each place is looked at once more under the locks, and the database's guards see
every row as they see one put on by hand."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict
from staff.ground.transactions import Crossed, retried
from staff.models import Assignment, DayWish, Outing, Person, Site, User
from staff.planning.roster_values import Filled, ProposedRoster
from staff.rules.outing.rest_days import misses_day_off
from staff.selectors.outing.roster_board import RosterBoard, roster_board
from staff.selectors.outing.roster_proposal import propose_roster
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_catch_up, lock_people


def roster_fingerprint(plan: ProposedRoster) -> str:
    """Tells one proposal from another: who goes where on which day."""
    return hashlib.sha256(repr(plan.filled).encode()).hexdigest()[:20]


def roster_fill(
    *, actor: User, site: Site, first: date, days: int, seen: str, now: datetime
) -> list[Assignment]:
    """Put everybody of the proposal on, all or nobody. `seen`: the fingerprint of the proposal that was shown.

    Raises `Conflict` when the proposal isn't that one any more, or when somebody was put on, taken off or lost the
    clearance meanwhile.
    """
    today = site.local_date(now)
    plan = propose_roster(roster_board(site, first, days), today).plan
    if not plan.filled or roster_fingerprint(plan) != seen:
        raise _changed()
    return _fill(actor=actor, site=site, first=first, days=days, filled=plan.filled, now=now)


@retried
def _fill(
    *, actor: User, site: Site, first: date, days: int, filled: Sequence[Filled], now: datetime
) -> list[Assignment]:
    with transaction.atomic():
        for person in lock_people(Person.objects.filter(pk__in={place.person for place in filled})):
            clearance_catch_up(person=person, now=now)
        crews = {place.crew for place in filled}
        locked = Outing.objects.select_for_update(of=("self",), no_key=True).filter(crews__in=crews)
        list(locked.order_by("pk").values_list("pk", flat=True))
        rows = _rows(roster_board(site, first, days), filled, actor, now)
        try:
            made = Assignment.objects.bulk_create(rows)
        except IntegrityError as error:
            # The guards saw a change that took no lock on the person.
            raise Crossed from error
        audit_write(
            actor=actor,
            action="roster.filled",
            now=now,
            site=site,
            first=first.isoformat(),
            days=days,
            people=[[row.outing_id, row.crew_id, row.person_id, row.role] for row in made],
        )
    return made


def _rows(board: RosterBoard, filled: Sequence[Filled], actor: User, now: datetime) -> list[Assignment]:
    """The proposal as rows, each looked at once more by what the locked record says."""
    crews = {row.crew.pk: row for row in board.crews}
    left = {key: dict(row.lacks) for key, row in crews.items()}
    out: dict[int, set[date]] = {}
    rows = []
    for place in filled:
        crew, member = crews.get(place.crew), board.by_person.get(place.person)
        if crew is None or member is None or crew.outing.date != place.day:
            raise _changed()
        left[place.crew][place.role] = left[place.crew].get(place.role, 0) - 1
        cover = member.cover_on(place.day)
        taken = out.setdefault(place.person, set(member.out))
        may = (
            member.clear_on(place.day)
            and place.role in member.roles
            and place.day not in taken
            and member.wish(place.day) != DayWish.Kind.CANNOT
            and not misses_day_off(taken, place.day, board.rest)
        )
        taken.add(place.day)
        if cover is None or not may or left[place.crew][place.role] < 0:
            raise _changed()
        row = Assignment(outing=crew.outing, crew=crew.crew, person=member.person, role=place.role)
        row.clearance, row.assigned_by, row.assigned_at, row.proposed = cover, actor, now, True
        rows.append(row)
    return rows


def _changed() -> Conflict:
    return Conflict(
        _("The roster or somebody's clearance has changed since this was proposed. Look at it again."),
        code="proposal-changed",
    )
