"""One cleared person on an outing, one uncleared beside it, and what being refused by the database means."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from staff.models import Assignment, Clearance, Crew, Dose, Outing, Person
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person


@dataclass
class Roster:
    """`on` is cleared and on the outing of crew `crew`; `off` has one dose too few."""

    team: Team
    on: Assignment
    off: Person
    outing: Outing
    crew: Crew
    now: datetime

    def row(self, **changes: object) -> Assignment:
        """An assignment of the uncleared person that rests on the other's clearance."""
        values: dict[str, object] = {
            "outing": self.outing,
            "crew": self.crew,
            "person": self.off,
            "role": "catcher",
            "clearance": self.on.clearance,
            "assigned_by": self.team.officer,
            "assigned_at": self.now,
        }
        return Assignment(**(values | changes))


def make_roster(team: Team, now: datetime) -> Roster:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    off = make_person(team.site, team.officer, now, number="off", name="Too Few")
    give_doses(off, team.officer, now, 30, 23)
    outing, crew = make_outing(team.site, team.officer, now)
    on = roster_assign(
        actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
    )
    return Roster(team, on, off, outing, crew, now)


def sql(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def refused(word: str, act: Callable[[], object]) -> None:
    """`act` must be refused by the database with `word`, and leave no trace."""
    before = _rows()
    with pytest.raises((IntegrityError, DatabaseError), match=word), transaction.atomic():
        act()
    assert _rows() == before


def _rows() -> list[list[dict[str, object]]]:
    """Assignments that ended among them."""
    models = (Assignment, Outing, Crew, Dose, Clearance)
    return [list(model._base_manager.order_by("pk").values()) for model in models]
