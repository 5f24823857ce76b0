"""Who is told: the people behind an audience, as they are now."""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime

from safety.models import Incident
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.local_time import clocks_of
from safety.selectors.notices.absences import OFFICE, absences_on
from safety.selectors.notices.asked_once import once
from staff.models import Outing, Person, Site, SiteRole, User
from staff.selectors.outing.on_crews import people_on


@dataclass(frozen=True)
class Recipient:
    """One address. `tag` names the reader in the notice's key.

    `zone` is that of the reader's clocks, `place_zone` that of where the matter happens; empty means the site's.
    """

    email: str
    language: str
    user: User | None = None
    person: Person | None = None
    zone: str = ""
    place_zone: str = ""

    def clocks(self, site: Site, *, local_date: date, hour: int) -> str:
        """The zone by whose clocks a notice of `site` comes at `hour` of `local_date` (see `clocks_of`)."""
        place = self.place_zone or site.time_zone
        return clocks_of(local_date=local_date, hour=hour, reader=self.zone, site=place)

    @property
    def tag(self) -> str:
        return f"user-{self.user.pk}" if self.user else f"person-{self.person.pk if self.person else 0}"

    @property
    def mark(self) -> str:
        """The reader at this address, so that a corrected one is written to again; a digest, so that any length fits."""
        return f"{self.tag}:{hashlib.sha256(self.email.encode()).hexdigest()[:24]}"


def holders(
    site: Site, role: SiteRole.Role, now: datetime, *, deputies: Collection[SiteRole.Role] = OFFICE
) -> list[Recipient]:
    """Active accounts with that role at the site and an e-mail address; the deputy of one who is away today.

    A deputy stands in who holds one of the roles `deputies` at the site, can be written to and isn't away too. Without
    one, the absent person is still written to, and everybody of the other role besides: nobody is left out.
    """
    today = site.local_date(now)
    asked = ("holders", site.pk, role, today, tuple(deputies))
    return list(once(asked, lambda: _holders(site, role, now, deputies)))


def _holders(
    site: Site, role: SiteRole.Role, now: datetime, deputies: Collection[SiteRole.Role]
) -> list[Recipient]:
    users = _people(site, role)
    away = absences_on(users, site.local_date(now))
    if not away:
        return [_reader(user) for user in users]
    able = _able(site, deputies, now)
    other = _people(site, *(one for one in OFFICE if one != role))
    found: dict[int, User] = {}
    for user in users:
        absence = away.get(user.pk)
        if absence is None:
            found[user.pk] = user
        elif absence.deputy_id in able:
            found[absence.deputy_id] = able[absence.deputy_id]
        else:
            found |= {one.pk: one for one in (user, *other)}
    return [_reader(user) for user in found.values()]


def everybody_of(site: Site) -> list[Recipient]:
    """Every officer and liaison of a site who can be written to, away or not: the last resort."""
    return [_reader(user) for user in _people(site, *OFFICE)]


def _able(site: Site, roles: Collection[SiteRole.Role], now: datetime) -> dict[int, User]:
    """Who can stand in at the site today."""
    users = _people(site, *roles)
    away = absences_on(users, site.local_date(now))
    return {user.pk: user for user in users if user.pk not in away}


def _people(site: Site, *roles: SiteRole.Role) -> list[User]:
    held = SiteRole.objects.filter(site=site, role__in=roles).values("user")
    return list(User.objects.filter(pk__in=held, is_active=True).exclude(email="").order_by("pk"))


def _reader(user: User) -> Recipient:
    return Recipient(user.email, user.language, user=user, zone=user.time_zone)


def member(person: Person) -> list[Recipient]:
    """The person, at the address on the record or else of the account; nobody when there is none."""
    email = person.email or (person.user.email if person.user else "")
    zone = person.user.time_zone if person.user else ""
    return [Recipient(email, person.language, person=person, zone=zone)] if email else []


def clinic_side(site: Site, now: datetime) -> list[Recipient]:
    """The liaisons of a site; its officers where there is none."""
    return holders(site, SiteRole.Role.LIAISON, now) or holders(site, SiteRole.Role.OFFICER, now)


def audience_of(
    incident: Incident, audience: Audience, now: datetime, *, place_zone: str = ""
) -> list[Recipient]:
    """The readers of a case's notices. A site without a liaison has its officers told instead.

    `place_zone` is where the member's course goes on (empty: the site's); the desk stays where it is.
    """
    if audience == Audience.MEMBER:
        return [replace(reader, place_zone=place_zone) for reader in member(incident.person)]
    if audience == Audience.LIAISON:
        return clinic_side(incident.site, now)
    return holders(incident.site, SiteRole.Role.OFFICER, now)


def outing_watchers(outing: Outing, now: datetime) -> list[Recipient]:
    """The officers of the site and the crew leads on the outing."""
    leads = people_on(outing=outing, role="lead").select_related("user")
    officers = holders(outing.site, SiteRole.Role.OFFICER, now)
    return officers + [reader for lead in leads for reader in member(lead)]
