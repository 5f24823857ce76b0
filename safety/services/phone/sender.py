"""Who sent a message, and for whom they may."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from safety.models import Incident, PhoneLink
from staff.models import Assignment, CrewRole, Person, User
from staff.selectors.access import LEAD, OFFICER, has_role
from staff.selectors.outing.on_crews import outings_of


@dataclass(frozen=True)
class Sender:
    """Whom a message comes from: the holder of a link, or whom an officer (`placed_by`) says it is from."""

    person: Person
    link: PhoneLink | None = None
    placed_by: User | None = None

    @property
    def audited(self) -> dict[str, Any]:
        """What the audit trail says besides the actor, who is empty for a link: the link isn't the account."""
        if self.link is None:
            return {}
        return {"by_link": self.link.pk, "link_of": self.link.person_id}

    def owns(self, incident: Incident) -> bool:
        """Whether a further message about `incident` may come from here."""
        if self.placed_by is not None:
            return has_role(self.placed_by, incident.site, OFFICER)
        through = incident.reported_through
        if through is not None:
            return through.person_id == self.person.pk
        return incident.reported_by_id is not None and incident.reported_by_id == self.person.user_id

    def person_meant(self, pk: int | None, happened_at: datetime) -> Person | None:
        """Whom the message is about: the sender, or somebody the sender leads; None when that can't be."""
        if pk is None or pk == self.person.pk or self.placed_by is not None:
            return self.person
        other = Person.objects.select_related("site__rules", "user").filter(pk=pk).first()
        return other if other is not None and self._leads(other, happened_at) else None

    def _leads(self, other: Person, happened_at: datetime) -> bool:
        if self.person.user is not None and has_role(self.person.user, other.site, LEAD):
            return True
        return Assignment.objects.filter(
            person=self.person,
            role=CrewRole.LEAD,
            outing__date=other.site.local_date(happened_at),
            outing__cancelled_at__isnull=True,
            outing__in=outings_of(person=other),
        ).exists()
