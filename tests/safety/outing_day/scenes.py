"""A crew of four who leave today: lead, catcher, vaccinator and recorder of a street of houses, all of them clear."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from safety.models import CrewReturn, Departure
from safety.services.crew_day.crew_roll import Roll
from safety.services.crew_day.departure_answers import Answers
from safety.services.crew_day.departures import departure_record
from safety.services.crew_day.returns import Worked, return_record
from staff.models import Crew, Outing, Person, User
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person, make_user

# House to house needs a catcher, a vaccinator and a recorder (staff.rules.outing.crew_shape); the lead comes besides.
ROLES = ("lead", "catcher", "vaccinator", "recorder")


@dataclass
class Day:
    """`people` by crew role; the person with the role lead has the account `head`. `spare` is clear and free."""

    team: Team
    outing: Outing
    crew: Crew
    people: dict[str, Person]
    head: User
    spare: Person
    now: datetime

    def here(self, *but: Person) -> frozenset[int]:
        return frozenset({one.pk for one in self.people.values()} - {one.pk for one in but})

    def everything(self, **changes: Any) -> Answers:
        whole: dict[str, Any] = {
            **dict.fromkeys(("helmets", "clothing", "kit", "briefing", "clinic_open"), True),
            "clinic": self.team.clinic,
            "vaccine": "yes",
            "immunoglobulin": "yes",
        }
        return Answers(**(whole | changes))

    def leave(
        self, *, by: User | None = None, roll: Roll | None = None, now: datetime | None = None, **changes: Any
    ) -> Departure:
        return departure_record(
            actor=by or self.head,
            crew=self.crew,
            roll=roll or Roll(self.here()),
            answers=self.everything(**changes),
            now=now or self.now,
        )

    def back(self, *, by: User | None = None, now: datetime | None = None, **changes: Any) -> CrewReturn:
        return return_record(
            actor=by or self.head, crew=self.crew, worked=worked(**changes), now=now or self.now
        )


def worked(**changes: Any) -> Worked:
    plain: dict[str, Any] = {
        "hours": 5,
        "people": 4,
        "dogs": 84,
        "none_said": True,
        "sharps_disposed": True,
        "sharps_note": "box handed in at the clinic",
    }
    return Worked(**(plain | changes))


def clear_person(team: Team, now: datetime, number: str, name: str) -> Person:
    person = make_person(team.site, team.officer, now, number=number, name=name)
    give_doses(person, team.officer, now, 60, 53, 39)
    return person


def make_day(team: Team, now: datetime, days_ahead: int = 0) -> Day:
    outing, crew = make_outing(team.site, team.officer, now, days_ahead)
    people = {role: clear_person(team, now, f"c{role}", f"Test {role.title()}") for role in ROLES}
    head = make_user("head")
    people["lead"].user = head
    people["lead"].save(update_fields=["user"])
    put_on(team, crew, people.items(), now)
    return Day(team, outing, crew, people, head, clear_person(team, now, "spare", "Test Spare"), now)


def put_on(team: Team, crew: Crew, people: Iterable[tuple[str, Person]], now: datetime) -> None:
    for role, person in people:
        roster_assign(actor=team.officer, outing=crew.outing, crew=crew, person=person, role=role, now=now)
