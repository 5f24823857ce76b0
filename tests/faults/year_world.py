"""The people, sites and clinics of the simulated year, laid before it begins."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random

from safety.models import Clinic
from staff.models import Person, Purpose, Regimen, Site, SiteRole, SiteRules, User
from staff.services.record.people import person_create
from staff.services.record.records import dose_record
from tests.factories import PRE_EXPOSURE, REGIMENS, approve, make_site, make_user
from tests.faults.year_check import SiteFacts

# Code, zone, hour of reminders, late rule, days after which a course starts again, and what the authority approved.
# Nairobi never changes its clocks; Santiago does so at midnight, the hour of its reminders.
SITES = (
    ("hillside", "Africa/Nairobi", 7, "keep-gaps", None),
    ("harbour", "America/New_York", 7, "keep-calendar", None),
    ("valley", "America/Santiago", 0, "restart", 5),
)
APPROVED = {
    "hillside": ("pep-im-0-3-7-14-28", "pep-im-0x2-7-21", "pep-immunised-im-0-3"),
    "harbour": ("pep-im-0-3-7-14to28", "pep-id-0x2-3x2-7x2", "pep-immunised-id-0-3"),
    "valley": ("pep-im-0-3-7-14", "pep-im-0-3-7-21", "pep-immunised-im-0-3to7"),
}
# Of ten people six were immunised before the year and two begin in it; one of thirty has no address.
IMMUNISED, BEGINNING, OF = 6, 8, 10
NO_ADDRESS = 30


@dataclass
class Place:
    """A site with who works there. `valley` has no liaison: an officer does what the liaison does."""

    site: Site
    officers: list[User]
    liaison: User
    clinics: list[Clinic]
    regimens: dict[str, Regimen]
    facts: SiteFacts
    people: list[Person]

    def at(self, day: date, hour: int, minute: int = 0) -> datetime:
        return datetime(day.year, day.month, day.day, hour, minute, tzinfo=self.site.zone)


def table_steps() -> dict[str, tuple[tuple[int, int, int], ...]]:
    """Day, latest day and smallest gap of each visit, read from the regimen file itself."""
    return {
        row["code"]: tuple((step["day"], step["latest_day"], step["smallest_gap"]) for step in row["steps"])
        for row in json.loads(REGIMENS.read_text())
    }


def lay_places(people: int, now: datetime) -> list[Place]:
    places = []
    for order, (code, zone, hour, late_rule, restart_after) in enumerate(SITES):
        site = make_site(code, zone)
        SiteRules.objects.filter(site=site).update(
            notice_hour=hour, late_rule=late_rule, restart_after_days=restart_after
        )
        site = Site.objects.select_related("rules").get(pk=site.pk)
        officers = [make_user(f"{code}-officer-{n}", site, SiteRole.Role.OFFICER) for n in (1, 2)]
        liaisons = [make_user(f"{code}-liaison", site, SiteRole.Role.LIAISON)] if code != "valley" else []
        approve(site, officers[0], PRE_EXPOSURE, *APPROVED[code])
        place = Place(
            site=site,
            officers=officers,
            liaison=[*liaisons, officers[0]][0],
            clinics=[Clinic.objects.create(site=site, name=f"Clinic {n}", phone=f"000 {n}") for n in (1, 2)],
            regimens={c: Regimen.objects.get(code=c, version=1) for c in APPROVED[code]},
            facts=SiteFacts(zone, hour, tuple(u.email for u in liaisons), tuple(u.email for u in officers)),
            people=[],
        )
        for number in range(order, people, len(SITES)):
            place.people.append(_person(place, number, now))
        places.append(place)
    return places


def _person(place: Place, number: int, now: datetime) -> Person:
    return person_create(
        actor=place.officers[0],
        site=place.site,
        number=str(number),
        name=f"Person {number}",
        now=now,
        crew_roles=["catcher", "recorder"],
        email="" if number % NO_ADDRESS == 17 else f"p{number}@example.org",
    )


def immunise(place: Place, person: Person, last: date, now: datetime) -> None:
    """Three doses before field work, the last on `last`."""
    for days in (21, 14, 0):
        dose_record(
            actor=place.officers[0],
            person=person,
            given_on=last - timedelta(days=days),
            route="IM",
            now=now,
            purpose=Purpose.PRE_EXPOSURE,
        )


def immunised_before(person: Person) -> bool:
    return int(person.number) % OF < IMMUNISED


def begins_in_the_year(person: Person) -> bool:
    return IMMUNISED <= int(person.number) % OF < BEGINNING


def some_day(dice: Random, first: date, days: int) -> date:
    return first + timedelta(days=dice.randrange(days))
