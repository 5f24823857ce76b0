"""What a sheet says about people: their texts, doses and safety briefings."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from staff.ground.purposes import Purpose
from staff.rules.importing.columns import Field


@dataclass(frozen=True)
class SheetDose:
    day: date
    row: int
    column: int
    route: str = ""
    purpose: str = Purpose.PRE_EXPOSURE
    product: str = ""
    batch: str = ""
    place: str = ""


@dataclass
class SheetPerson:
    """What the sheet says about one staff number; blank where it says nothing."""

    number: str
    row: int
    texts: dict[Field, str] = field(default_factory=dict)
    crew_roles: list[str] = field(default_factory=list)
    doses: list[SheetDose] = field(default_factory=list)
    # Days of safety briefings. In a list of one row a dose the same day may stand in every row of a person.
    briefings: set[date] = field(default_factory=set)
    # Fields whose cell has a finding of its own, so that nobody also calls them missing.
    unreadable: set[Field] = field(default_factory=set)

    @property
    def name(self) -> str:
        return self.texts.get(Field.NAME, "")


def canonical_number(number: str) -> str:
    """What two ways of writing one staff number share: case and leading zeros, which spreadsheets drop."""
    plain = number.casefold()
    return plain.lstrip("0") or "0" if plain.isascii() and plain.isdigit() else plain
