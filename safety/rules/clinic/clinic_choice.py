"""Which clinic to go to now: the first dose the same day matters most, so the nearest that is open with vaccine.

config/static/phone/clinics.js does the same on the phone; tests/safety/clinic_cases.json and the random tables of
tests/browser/clinics_agree.py hold both to one answer, so every figure here is reckoned in whole metres and seconds.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum

from staff.rules.regimen.values import RuleError

# The earth's mean radius in metres (IUGG): within 0.6 % of the geodesic on WGS 84, finer than the roads are.
RADIUS_M = 6371008.8


def is_stale(days_since_asked: int | None, news_days: int) -> bool:
    """Whether what is known of a clinic's stock is too old to rely on; None: nobody ever asked."""
    return days_since_asked is None or days_since_asked > news_days


@dataclass(frozen=True)
class ClinicRules:
    """The site's figures; those it starts with (7 days, 10 and 30 minutes) are common practice, no source.

    `news_days`: stock moves within days, what is older is a guess. `of_the_day`: how much farther the clinic of the day
    may be and still go first. `immunoglobulin`: how much more travel it is worth; it can follow the first dose by days,
    the dose can't wait.
    """

    travel_kmh: float
    news_days: int
    of_the_day: timedelta
    immunoglobulin: timedelta


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


def metres_between(here: Position, there: Position) -> int:
    """The straight way over the globe, in whole metres; roads are longer. The phone reckons by the same formula."""
    north = math.radians(there.latitude - here.latitude)
    east = math.radians(there.longitude - here.longitude)
    spread = math.cos(math.radians(here.latitude)) * math.cos(math.radians(there.latitude))
    part = math.sin(north / 2) ** 2 + spread * math.sin(east / 2) ** 2
    return math.floor(2 * RADIUS_M * math.asin(min(1.0, math.sqrt(part))) + 0.5)


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
    metres: int | None
    open: Sequence[Span] | None
    vaccine: InStock
    immunoglobulin: InStock
    confirmed_on: date | None


@dataclass(frozen=True)
class Judged:
    """One clinic of the list. `closes_at` goes with an open door, `opens_at` with a closed one that will open.

    `vaccine` and `immunoglobulin` are what may be relied on: an old yes is unknown. An old no stays a no, for nobody
    is sent somewhere in the hope that it has changed.
    """

    fact: ClinicFact
    vaccine: InStock
    immunoglobulin: InStock
    arrival: datetime
    door: Door
    closes_at: datetime | None
    opens_at: datetime | None
    lacks_immunoglobulin: bool
    days_since_asked: int | None
    stale: bool

    @property
    def qualifies(self) -> bool:
        """Open on arrival and vaccine not ruled out; hours that nobody knows never count as open."""
        return self.door is Door.OPEN and self.vaccine is not InStock.NO


class First(StrEnum):
    """Why the chosen clinic is first."""

    NEAREST = "nearest"
    OF_THE_DAY = "of-the-day"
    IMMUNOGLOBULIN = "immunoglobulin"


@dataclass(frozen=True)
class Choice:
    """`chosen` is the first of `order` when it qualifies; None: no clinic of the list does.

    `farther` is how much more travel the chosen one is than the nearest that qualifies. `elsewhere` is where
    immunoglobulin is known to be, when it is wanted and the chosen one isn't known to have it.
    """

    chosen: Judged | None
    order: tuple[Judged, ...]
    immunoglobulin_wanted: bool
    first: First = First.NEAREST
    farther: timedelta = timedelta(0)
    elsewhere: Judged | None = None


def choose_clinic(
    *,
    clinics: Iterable[ClinicFact],
    now: datetime,
    today: date,
    rules: ClinicRules,
    immunoglobulin_wanted: bool,
    open_until: datetime,
    of_the_day: int | None = None,
) -> Choice:
    """Order the clinics of a list for somebody who sets out `now`; `today` is the site's date.

    Arrival is now plus the straight way at the site's speed; where the distance is unknown, now. From `open_until` on
    open times aren't worked out, so the hours are unknown. First those open on arrival with vaccine, then open with
    vaccine unknown; behind them, to be rung, hours unknown, closed, no vaccine. Within each, the nearest (unknown
    distances last), then by name. The clinic `of_the_day` (key) goes before the first when it is as good and hardly
    farther, and one that has immunoglobulin, where it would be asked for, when it is as good and within
    the site's extra travel. Raises RuleError for a naive `now` or a speed not above zero.
    """
    if now.utcoffset() is None:
        raise RuleError("now", "The present instant needs a time zone.", "naive")
    if rules.travel_kmh <= 0:
        raise RuleError("travel_kmh", "The travel speed must be above zero.", "too-small")
    judged = [_judge(fact, now, today, rules, immunoglobulin_wanted, open_until) for fact in clinics]
    judged.sort(key=_rank)
    plain = Choice(None, tuple(judged), immunoglobulin_wanted)
    if not judged or not judged[0].qualifies:
        return plain
    chosen = replace(plain, chosen=judged[0])
    chosen = _before_it(chosen, First.OF_THE_DAY, rules.of_the_day, lambda one: one.fact.key == of_the_day)
    if chosen.chosen and chosen.chosen.lacks_immunoglobulin:
        chosen = _before_it(chosen, First.IMMUNOGLOBULIN, rules.immunoglobulin, _has_immunoglobulin)
        if chosen.first is not First.IMMUNOGLOBULIN:
            elsewhere = next(filter(_has_immunoglobulin, chosen.order), None)
            chosen = replace(chosen, elsewhere=elsewhere)
    return chosen


def _has_immunoglobulin(one: Judged) -> bool:
    return one.immunoglobulin is InStock.YES


def _before_it(choice: Choice, why: First, within: timedelta, fits: Callable[[Judged], bool]) -> Choice:
    """The choice with the first that fits before all others, if it is as good as the chosen one and near enough."""
    chosen = choice.chosen
    assert chosen is not None
    nearest = min(choice.order, key=_rank)
    for one in choice.order:
        farther = _farther(nearest, one)
        if fits(one) and _group(one) == _group(chosen) and farther is not None and farther <= within:
            order = (one, *(other for other in choice.order if other is not one))
            return replace(choice, chosen=one, order=order, first=why, farther=farther)
    return choice


def _farther(nearest: Judged, one: Judged) -> timedelta | None:
    """How much more travel; nothing where neither distance is known, None where one of them isn't."""
    if nearest.fact.metres is None and one.fact.metres is None:
        return timedelta(0)
    if nearest.fact.metres is None or one.fact.metres is None:
        return None
    return one.arrival - nearest.arrival


def _judge(
    fact: ClinicFact, now: datetime, today: date, rules: ClinicRules, wanted: bool, open_until: datetime
) -> Judged:
    arrival = now + timedelta(seconds=math.ceil((fact.metres or 0) * 36 / (10 * rules.travel_kmh)))
    days = (today - fact.confirmed_on).days if fact.confirmed_on else None
    stale = is_stale(days, rules.news_days)
    immunoglobulin = _relied_on(fact.immunoglobulin, stale)
    inside = [span for span in fact.open or () if span.opens_at <= arrival < span.closes_at]
    later = [span.opens_at for span in fact.open or () if span.opens_at > arrival]
    unknown = fact.open is None or arrival >= open_until
    door = Door.HOURS_UNKNOWN if unknown else Door.OPEN if inside else Door.CLOSED
    return Judged(
        fact=fact,
        vaccine=_relied_on(fact.vaccine, stale),
        immunoglobulin=immunoglobulin,
        arrival=arrival,
        door=door,
        closes_at=max(span.closes_at for span in inside) if door is Door.OPEN else None,
        opens_at=min(later) if door is Door.CLOSED and later else None,
        lacks_immunoglobulin=wanted and immunoglobulin is not InStock.YES,
        days_since_asked=days,
        stale=stale,
    )


def _relied_on(said: InStock, stale: bool) -> InStock:
    return InStock.UNKNOWN if said is InStock.YES and stale else said


def _rank(one: Judged) -> tuple[int, float, bytes, int]:
    metres = math.inf if one.fact.metres is None else one.fact.metres
    # By UTF-16 units, as a script compares text.
    return _group(one), metres, one.fact.name.encode("utf-16-be", "surrogatepass"), one.fact.key


def _group(one: Judged) -> int:
    if one.vaccine is InStock.NO:
        return 4
    if one.door is Door.OPEN:
        return 0 if one.vaccine is InStock.YES else 1
    return 2 if one.door is Door.HOURS_UNKNOWN else 3
