"""What is said of an incident, as values: by whichever door, the facts of a case are the same."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Any

from safety.models import Answer, PhoneLink
from safety.models.case.choices import Animal, ContactKind, Task
from staff.models import Outing, Person, User


@dataclass(frozen=True)
class WoundReport:
    contact: str = ContactKind.UNKNOWN
    body_site: str = "unknown"
    broke_skin: str = Answer.UNKNOWN
    bled: str = Answer.UNKNOWN
    deep: str = Answer.UNKNOWN


@dataclass(frozen=True)
class SpellReport:
    started_at: datetime
    stopped_at: datetime | None = None
    soap: str = Answer.UNKNOWN
    running_water: str = Answer.UNKNOWN


@dataclass(frozen=True)
class Washing:
    spells: tuple[SpellReport, ...] = ()
    not_washed: bool = False
    antiseptic: str = Answer.UNKNOWN


@dataclass(frozen=True)
class Place:
    latitude: float
    longitude: float
    accuracy_m: float | None


@dataclass(frozen=True)
class CaseFacts:
    """A case as it is born or filled in. Not `complete`: washing began, and the answers are still to come."""

    kind: str
    happened_at: datetime
    wounds: tuple[WoundReport, ...] = ()
    animal: str = Animal.UNKNOWN
    animal_facts: dict[str, Any] = field(default_factory=dict)
    task: str = Task.UNKNOWN
    causes: tuple[str, ...] = ()
    others_hurt: str = Answer.UNKNOWN
    narrative: str = ""
    washing: Washing = Washing()
    place: Place | None = None
    complete: bool = True

    def columns(self, now: datetime) -> dict[str, Any]:
        """Of the case's own row; wounds and spells have theirs."""
        place = self.place
        return {
            "details_at": now if self.complete else None,
            "kind": self.kind,
            "happened_at": self.happened_at,
            "animal": self.animal,
            "task": self.task,
            "causes": list(self.causes),
            "others_hurt": self.others_hurt,
            "narrative": self.narrative,
            "latitude": place.latitude if place else None,
            "longitude": place.longitude if place else None,
            "accuracy_m": place.accuracy_m if place else None,
        } | ({"animal_facts": self.animal_facts} if self.animal_facts else {})


@dataclass(frozen=True)
class IncidentReport:
    """What a report says. Instants are aware; `washed_minutes` None means not recorded, 0 not washed.

    `wash_started_at` comes from a wash clock instead of minutes; without `wash_stopped_at` it still runs.
    """

    kind: str
    happened_at: datetime
    wounds: tuple[WoundReport, ...] = ()
    animal: str = Animal.UNKNOWN
    task: str = Task.UNKNOWN
    causes: tuple[str, ...] = ()
    narrative: str = ""
    washed_minutes: int | None = None
    soap: str = Answer.UNKNOWN
    wash_started_at: datetime | None = None
    wash_stopped_at: datetime | None = None

    def digest(
        self,
        *,
        person: Person,
        actor: User | None,
        outing: Outing | None = None,
        link: PhoneLink | None = None,
    ) -> str:
        """Same report by the same account, or a link of the same person, on the same outing: same digest."""
        body = asdict(self) | {
            "person": person.pk,
            "actor": actor.pk if actor else None,
            "outing": outing.pk if outing else None,
        }
        if link is not None:
            body["link_of"] = link.person_id
        return hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).hexdigest()

    def facts(self, now: datetime) -> CaseFacts:
        """Minutes of washing are a spell that ends when they had passed, at the latest now."""
        spells: tuple[SpellReport, ...] = ()
        if self.washed_minutes:
            length = timedelta(minutes=self.washed_minutes)
            stopped = min(now, self.happened_at + length)
            spells = (SpellReport(stopped - length, stopped, self.soap),)
        elif self.wash_started_at:
            spells = (SpellReport(self.wash_started_at, self.wash_stopped_at, self.soap),)
        return CaseFacts(
            kind=self.kind,
            happened_at=self.happened_at,
            wounds=self.wounds,
            animal=self.animal,
            task=self.task,
            causes=self.causes,
            narrative=self.narrative,
            washing=Washing(spells, not_washed=self.washed_minutes == 0),
        )
