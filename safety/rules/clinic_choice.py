"""Which clinic to go to now: the nearest that is open on arrival and has what would be asked for.

config/static/phone/clinics.js does the same on the phone; tests/safety/clinic_cases.json holds both to one table.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from staff.rules.values import RuleError

# Stock moves within days; after a week what is known of it is a guess (common practice, no source).
STALE_DAYS = 7


def is_stale(days_since_asked: int | None) -> bool:
    """Whether what is known of a clinic's stock is too old to rely on; None: nobody ever asked."""
    return days_since_asked is None or days_since_asked > STALE_DAYS


@dataclass(frozen=True)
class Position:
    """Degrees on WGS 84. Raises RuleError for what lies outside the globe."""

    latitude: float
    longitude: float

    def __post_init__(self) -> None:
        if not -90 <= self.latitude <= 90:
            raise RuleError("latitude", "Latitude goes from -90 to 90 degrees.", "latitude")
        if not -180 <= self.longitude <= 180:
            raise RuleError("longitude", "Longitude goes from -180 to 180 degrees.", "longitude")


@dataclass(frozen=True)
class Span:
    """Open from one instant until just before another."""

    opens_at: datetime
    closes_at: datetime


class InStock(StrEnum):
    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Door(StrEnum):
    """What the door is on arrival."""

    OPEN = "open"
    CLOSED = "closed"
    HOURS_UNKNOWN = "hours-unknown"


@dataclass(frozen=True)
class ClinicFact:
    """A clinic as the list knows it. `metres` None: its place or ours is not known. `open` None: its hours aren't."""

    key: int
    name: str
    metres: float | None
    open: Sequence[Span] | None
    vaccine: InStock
    immunoglobulin: InStock
    confirmed_on: date | None


@dataclass(frozen=True)
class Judged:
    """One clinic of the list. `closes_at` goes with an open door, `opens_at` with a closed one that will open."""

    fact: ClinicFact
    arrival: datetime
    door: Door
    closes_at: datetime | None
    opens_at: datetime | None
    lacks_immunoglobulin: bool
    days_since_asked: int | None

    @property
    def qualifies(self) -> bool:
        """Open on arrival and vaccine not ruled out; hours that nobody knows never count as open."""
        return self.door is Door.OPEN and self.fact.vaccine is not InStock.NO

    @property
    def stale(self) -> bool:
        return is_stale(self.days_since_asked)


@dataclass(frozen=True)
class Choice:
    """`chosen` is the first of `order` when it qualifies; None: no clinic of the list does."""

    chosen: Judged | None
    order: tuple[Judged, ...]
    immunoglobulin_wanted: bool


def choose_clinic(
    *,
    clinics: Iterable[ClinicFact],
    now: datetime,
    today: date,
    travel_kmh: float,
    immunoglobulin_wanted: bool,
    open_until: datetime,
) -> Choice:
    """Order the clinics of a list for somebody who sets out `now`; `today` is the site's date.

    Arrival is now plus the straight way at `travel_kmh`; where the distance is unknown, now. From `open_until` on
    open times aren't worked out, so the hours are unknown. First those open on arrival with vaccine, then open with vaccine unknown; behind them, to be rung, hours unknown, closed, no
    vaccine. Within each, those known to have immunoglobulin come first where it would be asked for, then the
    nearest (unknown distances last), then by name. Raises RuleError for a naive `now` or a speed not above zero.
    """
    if now.utcoffset() is None:
        raise RuleError("now", "The present instant needs a time zone.", "naive")
    if travel_kmh <= 0:
        raise RuleError("travel_kmh", "The travel speed must be above zero.", "too-small")
    judged = [_judge(fact, now, today, travel_kmh, immunoglobulin_wanted, open_until) for fact in clinics]
    judged.sort(key=_rank)
    chosen = judged[0] if judged and judged[0].qualifies else None
    return Choice(chosen, tuple(judged), immunoglobulin_wanted)


def _judge(
    fact: ClinicFact, now: datetime, today: date, travel_kmh: float, wanted: bool, open_until: datetime
) -> Judged:
    arrival = now + timedelta(hours=(fact.metres or 0.0) / 1000 / travel_kmh)
    inside = [span for span in fact.open or () if span.opens_at <= arrival < span.closes_at]
    later = [span.opens_at for span in fact.open or () if span.opens_at > arrival]
    unknown = fact.open is None or arrival >= open_until
    door = Door.HOURS_UNKNOWN if unknown else Door.OPEN if inside else Door.CLOSED
    return Judged(
        fact=fact,
        arrival=arrival,
        door=door,
        closes_at=max(span.closes_at for span in inside) if door is Door.OPEN else None,
        opens_at=min(later) if door is Door.CLOSED and later else None,
        lacks_immunoglobulin=wanted and fact.immunoglobulin is not InStock.YES,
        days_since_asked=(today - fact.confirmed_on).days if fact.confirmed_on else None,
    )


def _rank(one: Judged) -> tuple[int, bool, float, str, int]:
    metres = float("inf") if one.fact.metres is None else one.fact.metres
    return _group(one), one.lacks_immunoglobulin, metres, one.fact.name, one.fact.key


def _group(one: Judged) -> int:
    if one.fact.vaccine is InStock.NO:
        return 4
    if one.door is Door.OPEN:
        return 0 if one.fact.vaccine is InStock.YES else 1
    return 2 if one.door is Door.HOURS_UNKNOWN else 3
