"""What a crew should have before it leaves, and on which dates leaving and coming back may be recorded."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

# A crew that comes back without a network records it later; after a week nobody remembers. Common practice, no source.
RETURN_DAYS = 7


class Missing(StrEnum):
    """What a crew goes without."""

    PEOPLE = "people"
    ROLES = "roles"
    HELMETS = "helmets"
    CLOTHING = "clothing"
    KIT = "kit"
    CLINIC = "clinic"
    VACCINE = "vaccine"
    IMMUNOGLOBULIN = "immunoglobulin"
    BRIEFING = "briefing"


class Day(StrEnum):
    """Where a date stands to the dates on which something may be recorded."""

    AHEAD = "ahead"
    OPEN = "open"
    OVER = "over"


@dataclass(frozen=True)
class Readied:
    """The answers before leaving. Stock is what the clinic said on the telephone that day; "don't know" is no."""

    everybody: bool
    every_role: bool
    helmets: bool
    clothing: bool
    kit: bool
    clinic_open: bool
    vaccine: bool
    immunoglobulin: bool
    briefing: bool


def missing_before_leaving(said: Readied) -> tuple[Missing, ...]:
    """Empty when nothing is. Helmets, long trousers and shoes that close over the toes: common practice, no source.

    What a clinic has in stock says nothing while it isn't known to be open.
    """
    return tuple(_missing(said))


def _missing(said: Readied) -> Iterator[Missing]:
    answers = (
        (said.everybody, Missing.PEOPLE),
        (said.every_role, Missing.ROLES),
        (said.helmets, Missing.HELMETS),
        (said.clothing, Missing.CLOTHING),
        (said.kit, Missing.KIT),
        (said.clinic_open, Missing.CLINIC),
        (said.vaccine or not said.clinic_open, Missing.VACCINE),
        (said.immunoglobulin or not said.clinic_open, Missing.IMMUNOGLOBULIN),
        (said.briefing, Missing.BRIEFING),
    )
    return (code for there, code in answers if not there)


def leaving_day(outing_on: date, today: date) -> Day:
    """A crew leaves on the outing's date and on no other; both are dates of the site's calendar."""
    return _day(outing_on, outing_on, today)


def return_day(outing_on: date, today: date) -> Day:
    """It comes back on that date, or says so within a week."""
    return _day(outing_on, outing_on + timedelta(days=RETURN_DAYS), today)


def _day(first: date, last: date, today: date) -> Day:
    if today < first:
        return Day.AHEAD
    return Day.OPEN if today <= last else Day.OVER
