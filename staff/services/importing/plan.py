"""What an import would do: the sheet compared with the record. Nothing is written here."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from staff.models import Person
from staff.rules.importing.columns import Field, Mapped
from staff.rules.importing.dates import DateFormat
from staff.rules.importing.findings import Finding
from staff.rules.importing.people import SheetDose, SheetPerson

T = TypeVar("T")


@dataclass(frozen=True)
class Choices:
    """What the officer decides about a file. `evidence` is a staff.models.Evidence value, "" until chosen."""

    mapping: Mapped
    date_format: DateFormat = DateFormat.ISO
    evidence: str = ""


@dataclass(frozen=True)
class Progress:
    """`phase` is "read", "compare" or "write"; `done` of `total` rows or people."""

    phase: str
    done: int
    total: int


Steps = Generator[Progress, None, T]


def run(steps: Steps[T], each: Callable[[Progress], None] | None = None) -> T:
    """Go through `steps` to the end, telling `each` of the progress; returns their result."""
    while True:
        try:
            progress = next(steps)
        except StopIteration as done:
            result: T = done.value
            return result
        if each:
            each(progress)


@dataclass
class PersonPlan:
    """What one staff number would get. `person` is None for somebody new."""

    sheet: SheetPerson
    person: Person | None
    changes: dict[str, str] = field(default_factory=dict)
    new_roles: list[str] = field(default_factory=list)
    new_doses: list[SheetDose] = field(default_factory=list)
    unchanged_doses: int = 0
    new_briefings: list[date] = field(default_factory=list)
    unchanged_briefings: int = 0

    @property
    def changes_record(self) -> bool:
        return self.person is None or self.changes_clearance or bool(self.changes or self.new_roles)

    @property
    def changes_clearance(self) -> bool:
        return self.person is None or bool(self.new_doses or self.new_briefings)


@dataclass
class ImportPlan:
    people: list[PersonPlan] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    @property
    def problems(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.stops]

    @property
    def notes(self) -> list[Finding]:
        return [finding for finding in self.findings if not finding.stops]

    @property
    def changed(self) -> list[PersonPlan]:
        return [plan for plan in self.people if plan.changes_record]

    def counts(self) -> dict[str, int]:
        """People, doses and briefings by what would become of them."""
        added = sum(plan.person is None for plan in self.people)
        return {
            "people_added": added,
            "people_changed": len(self.changed) - added,
            "people_unchanged": len(self.people) - len(self.changed),
            "doses_added": sum(len(plan.new_doses) for plan in self.people),
            "doses_unchanged": sum(plan.unchanged_doses for plan in self.people),
            "briefings_added": sum(len(plan.new_briefings) for plan in self.people),
            "briefings_unchanged": sum(plan.unchanged_briefings for plan in self.people),
        }


def fingerprint(choices: Choices, plan: ImportPlan) -> str:
    """What the officer saw when confirming, as a short digest: an import that would do something else is refused."""
    doses = sorted(
        (
            each.sheet.number,
            dose.day.isoformat(),
            dose.route,
            dose.purpose,
            dose.batch,
            dose.product,
            dose.place,
        )
        for each in plan.people
        for dose in each.new_doses
    )
    people = sorted(
        (each.sheet.number, each.person is None, sorted(each.changes.items()), sorted(each.new_roles))
        for each in plan.people
    )
    briefings = sorted(
        (each.sheet.number, day.isoformat()) for each in plan.people for day in each.new_briefings
    )
    mapping = sorted((column, str(name)) for column, name in choices.mapping.items())
    seen = json.dumps([mapping, choices.date_format, choices.evidence, people, doses, briefings])
    return hashlib.sha256(seen.encode()).hexdigest()[:24]


def mapping_from(stored: dict[str, str]) -> dict[int, Field]:
    """The mapping of a draft; columns in order."""
    return {
        int(column): Field(name) for column, name in sorted(stored.items(), key=lambda item: int(item[0]))
    }
