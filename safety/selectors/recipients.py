"""Who is told: the people behind an audience, as they are now."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from safety.models import Incident
from safety.rules.follow_up import Audience
from staff.models import Outing, Person, Site, SiteRole, User


@dataclass(frozen=True)
class Recipient:
    """One address. `tag` names the reader in the notice's key; an empty `zone` is the site's."""

    email: str
    language: str
    user: User | None = None
    person: Person | None = None
    zone: str = ""

    @property
    def tag(self) -> str:
        return f"user-{self.user.pk}" if self.user else f"person-{self.person.pk if self.person else 0}"

    @property
    def mark(self) -> str:
        """The reader at this address, so that a corrected one is written to again; a digest, so that any length fits."""
        return f"{self.tag}:{hashlib.sha256(self.email.encode()).hexdigest()[:24]}"


def holders(site: Site, role: SiteRole.Role) -> list[Recipient]:
    """Active accounts with that role at the site and an e-mail address."""
    users = User.objects.filter(site_roles__site=site, site_roles__role=role, is_active=True).exclude(
        email=""
    )
    return [Recipient(user.email, user.language, user=user) for user in users.order_by("pk")]


def member(person: Person) -> list[Recipient]:
    """The person, at the address on the record or else of the account; nobody when there is none."""
    email = person.email or (person.user.email if person.user else "")
    return [Recipient(email, person.language, person=person)] if email else []


def clinic_side(site: Site) -> list[Recipient]:
    """The liaisons of a site; its officers where there is none."""
    return holders(site, SiteRole.Role.LIAISON) or holders(site, SiteRole.Role.OFFICER)


def audience_of(incident: Incident, audience: Audience, *, zone: str = "") -> list[Recipient]:
    """The readers of a case's notices. A site without a liaison has its officers told instead.

    `zone` is where the member is (empty: the site's); the desk stays where it is.
    """
    if audience == Audience.MEMBER:
        return [replace(reader, zone=zone or reader.zone) for reader in member(incident.person)]
    if audience == Audience.LIAISON:
        return clinic_side(incident.site)
    return holders(incident.site, SiteRole.Role.OFFICER)


def outing_watchers(outing: Outing) -> list[Recipient]:
    """The officers of the site and the crew leads on the outing."""
    leads = Person.objects.filter(assignments__outing=outing, assignments__role="lead").select_related("user")
    return holders(outing.site, SiteRole.Role.OFFICER) + [reader for lead in leads for reader in member(lead)]
