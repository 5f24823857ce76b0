"""Outings last and next week, with crews of people who were or will be clear."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from safety.demo.programme import at
from safety.demo.telephones import telephone
from staff.models import Crew, Outing, Person, Site, User
from staff.rules.outing.outing_details import OutingDetails
from staff.selectors.record.readiness import readiness
from staff.services.campaign.community import community_told_record
from staff.services.outing.outings import outing_create
from staff.services.outing.roster import roster_assign

DAYS = (-7, -5, -2, 0, 1, 3, 6, 8)
# Of which owners and neighbours were told; tomorrow's were forgotten.
TOLD, WHO = (-7, -5, -2, 0, 3), "the owners, through the area's elder"
AREAS = (
    "Pashfold",
    "Tullimere",
    "Wendelbank",
    "Brinnoway",
    "Aldrimoss",
    "Varrowfold",
    "Hebbermere",
    "Ulvinrow",
)
# When and where a crew meets, in turn.
MEETINGS = (
    (time(6, 30), "At the pump in front of the school"),
    (time(5, 45), "Gate of the base, by the water tank"),
    (time(7), "Under the big tree at the crossing"),
)
DAY_PHONE = 20
PLACES = ("lead", "catcher", "catcher", "vaccinator", "recorder", "driver")


def make_outings(site: Site, by: User, now: datetime, first: list[Person]) -> None:
    """One outing a few days of the week; `first` are rostered before anybody else."""
    today = site.local_date(now)
    for turn, (days, area) in enumerate(zip(DAYS, AREAS, strict=True)):
        day = today + timedelta(days=days)
        planned_at = min(now, at(site, day - timedelta(days=4)))
        outing = outing_create(
            actor=by,
            site_id=site.pk,
            date=day,
            area=area,
            method="house-to-house" if days % 2 else "street-catching",
            dogs_expected=60 + 10 * abs(days),
            crews=1,
            details=_details(turn),
            now=planned_at,
        )
        if days in TOLD:
            told_on = site.local_date(planned_at)
            community_told_record(
                actor=by, outing=outing, told_on=told_on, who=WHO, how="loudspeaker", now=planned_at
            )
        _fill(outing, outing.crews.get(), by, planned_at, first)


def _details(turn: int) -> OutingDetails:
    starts, place = MEETINGS[turn % len(MEETINGS)]
    return OutingDetails(start_time=starts, meeting_place=place, day_phone=telephone(DAY_PHONE + turn))


def _fill(outing: Outing, crew: Crew, by: User, now: datetime, first: list[Person]) -> None:
    board = readiness(Person.objects.filter(site=outing.site), outing.date, [outing.site])
    clear = [row.person for row in board if row.clear]
    spin = outing.date.toordinal() % max(1, len(clear))
    queue = [person for person in first if person in clear] + clear[spin:] + clear[:spin]
    taken: set[int] = set()
    # The last place of the coming outings stays open: something to fill.
    for role in PLACES if outing.date.toordinal() % 2 else PLACES[:-1]:
        person = next(
            (
                someone
                for someone in queue
                if someone.pk not in taken and role in {held.role for held in someone.crew_roles.all()}
            ),
            None,
        )
        if person is not None:
            taken.add(person.pk)
            roster_assign(actor=by, outing=outing, crew=crew, person=person, role=role, now=now)
