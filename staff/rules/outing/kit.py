"""What a crew carries on an outing, counted from the dogs it expects, its riders and the figures of the site.

Integer arithmetic alone, always rounded up: one too many goes home again, one too few stops the work.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Item(StrEnum):
    """In the order in which a list shows them; the values stand in the database."""

    VACCINE = "vaccine"
    NEEDLES = "needles"
    SYRINGES = "syringes"
    SHARPS_BOX = "sharps-box"
    COLLARS = "collars"
    PUPPY_MARKS = "puppy-marks"
    FORCEPS = "forceps"
    WATER = "water"
    SOAP = "soap"
    ANTISEPTIC = "antiseptic"
    FIRST_AID = "first-aid"
    HELMETS = "helmets"


class Unit(StrEnum):
    PIECES = "pieces"
    DOSES = "doses"
    LITRES = "litres"


UNITS = {Item.VACCINE: Unit.DOSES, Item.WATER: Unit.LITRES}

# Long ones, to pass a collar through a net; and the length of webbing that makes a collar. Common practice, no source.
FORCEPS_PER_CREW, COLLAR_CM = 2, 75


@dataclass(frozen=True)
class KitRules:
    """Figures of one site; the flow of the carried water in mL a minute."""

    spare_percent: int
    syringe_uses: int
    washes_carried: int
    wash_minutes: int
    wash_flow_ml: int


@dataclass(frozen=True)
class Load:
    """What a kit is for. Every dog gets one injection; puppies are not among `adults`."""

    adults: int
    puppies: int
    riders: int

    def __post_init__(self) -> None:
        if min(self.adults, self.puppies, self.riders) < 0:
            raise ValueError(f"nothing is counted below zero: {self}")


@dataclass(frozen=True)
class Line:
    """`need` is what the work uses when it goes as expected, `count` what is carried, the spare share included."""

    item: Item
    need: int
    count: int

    @property
    def unit(self) -> Unit:
        return UNITS.get(self.item, Unit.PIECES)


def crew_load(whole: Load, crews: int) -> Load:
    """The share of one of `crews` crews, each figure rounded up, for nobody knows which crew meets more dogs."""
    return Load(*(_up(figure, crews) for figure in (whole.adults, whole.puppies, whole.riders)))


def kit_for(load: Load, rules: KitRules) -> tuple[Line, ...]:
    """The list of one crew; what it needs none of isn't on it.

    110 doses for 100 dogs: Canine Rabies Blueprint 5.2.1 and 5.4.12. A new needle for every injection, five injections
    with a syringe at most, a collar for adult dogs and a harmless colour mark for puppies: common practice, no source.
    Water is washes × minutes × flow, in whole litres.
    """
    injections = load.adults + load.puppies
    carried = _with_spare(injections, rules)
    water = _up(rules.washes_carried * rules.wash_minutes * rules.wash_flow_ml, 1000)
    lines = (
        Line(Item.VACCINE, injections, carried),
        Line(Item.NEEDLES, injections, carried),
        Line(Item.SYRINGES, _up(injections, rules.syringe_uses), _up(carried, rules.syringe_uses)),
        Line(Item.SHARPS_BOX, 1, 1),
        Line(Item.COLLARS, load.adults, _with_spare(load.adults, rules)),
        Line(Item.PUPPY_MARKS, load.puppies, _with_spare(load.puppies, rules)),
        Line(Item.FORCEPS, FORCEPS_PER_CREW, FORCEPS_PER_CREW),
        Line(Item.WATER, water, water),
        Line(Item.SOAP, 1, 1),
        Line(Item.ANTISEPTIC, 1, 1),
        Line(Item.FIRST_AID, 1, 1),
        Line(Item.HELMETS, load.riders, load.riders),
    )
    return tuple(line for line in lines if line.count)


def add_up(kits: Iterable[Iterable[Line]]) -> tuple[Line, ...]:
    """The lists of several crews as one, in the order of the items."""
    lines = [line for kit in kits for line in kit]
    summed = (
        Line(item, sum(line.need for line in same), sum(line.count for line in same))
        for item in Item
        if (same := [line for line in lines if line.item is item])
    )
    return tuple(summed)


def webbing_metres(collars: int) -> int:
    """Whole metres of webbing from which so many collars can be cut."""
    return _up(collars * COLLAR_CM, 100)


def _with_spare(number: int, rules: KitRules) -> int:
    return _up(number * (100 + rules.spare_percent), 100)


def _up(number: int, by: int) -> int:
    return -(-number // by)
