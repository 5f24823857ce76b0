"""A team of cleared people with crew roles, and outings over some days, for the roster's tests."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from staff.models import Outing, Person, PersonCrewRole
from staff.services.outing.outings import outing_create
from tests.factories import Team, give_doses, make_person

ROLES = ("catcher", "vaccinator", "recorder")


@dataclass
class Field:
    """`people` by name of their only crew role and number: "catcher 1" … ; `outings` in order of dates."""

    team: Team
    now: datetime
    people: dict[str, Person]
    outings: list[Outing]

    @property
    def today(self) -> date:
        return self.team.site.local_date(self.now)

    def day(self, number: int) -> date:
        return self.today + timedelta(days=number)

    def crew_of(self, number: int):  # type: ignore[no-untyped-def]  # the row with its outing
        return self.outings[number].crews.select_related("outing__site__rules").first()


def make_field(team: Team, now: datetime, *, days: int = 2, each: int = 1) -> Field:
    """`each` cleared people of each needed role, and an outing house to house on each of `days` days from tomorrow."""
    PersonCrewRole.objects.filter(person__site=team.site).delete()
    people = {}
    for role in ROLES:
        for number in range(1, each + 1):
            person = make_person(
                team.site, team.officer, now, number=f"{role}-{number}", name=f"{role} {number}"
            )
            PersonCrewRole.objects.filter(person=person).delete()
            PersonCrewRole.objects.create(person=person, role=role)
            give_doses(person, team.officer, now, 30, 23, 2)
            people[f"{role} {number}"] = person
    outings = [
        outing_create(
            actor=team.officer,
            site_id=team.site.pk,
            date=team.site.local_date(now) + timedelta(days=number),
            area=f"Test Area {number}",
            method="house-to-house",
            dogs_expected=40,
            now=now,
        )
        for number in range(1, days + 1)
    ]
    return Field(team, now, people, outings)
