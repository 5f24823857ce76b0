"""What a year's follow-up should have been, worked out from the raw events alone.

Written apart from the service, with the standard library only: own date arithmetic, own reading of the regimen table
and of the plan of notices, hours found by looking at the zone's clocks minute by minute. The late rule that keeps the
gaps is that of the ACIP (MMWR 2010;59(RR-2): the remaining doses keep their spacing); keeping the calendar and starting
again are decided by this program and described in staff/rules/regimen/schedule.py.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)
# Days from the due date, the stage told then, and to whom; from two days on it is told daily.
TOLD = {
    -1: ("day-before", ("liaison", "member")),
    0: ("day-of", ("liaison", "member")),
    1: ("day-after", ("liaison", "member", "officer")),
}
TOLD_DAILY = ("overdue", ("liaison", "member", "officer"))


@dataclass(frozen=True)
class SiteFacts:
    """`hour`: of reminders, by the clocks of `zone`. Without a liaison the officers stand in."""

    zone: str
    hour: int
    liaisons: tuple[str, ...]
    officers: tuple[str, ...]


@dataclass(frozen=True)
class Begun:
    """`steps`: day, latest day and smallest gap of each visit, as the table has them."""

    at: datetime
    course: int
    site: str
    person: int
    steps: tuple[tuple[int, int, int], ...]
    rule: str
    restart_after: int | None
    starts_on: date


@dataclass(frozen=True)
class Given:
    at: datetime
    course: int
    dose: int
    on: date


@dataclass(frozen=True)
class Voided:
    at: datetime
    course: int
    dose: int


@dataclass(frozen=True)
class Ended:
    at: datetime
    course: int


@dataclass(frozen=True)
class Resumed:
    at: datetime
    course: int


@dataclass(frozen=True)
class Moved:
    """The course goes on where the clocks are those of `zone`: the member is told by them, the desk by its own."""

    at: datetime
    course: int
    zone: str


@dataclass(frozen=True)
class Address:
    at: datetime
    person: int
    email: str


Event = Begun | Given | Voided | Ended | Resumed | Moved | Address
# Number of the dose, due, at the latest, given.
Row = tuple[int, date, date, date | None]
# Course, number, due, stage, local date of sending, address.
Key = tuple[int, int, date, str, date, str]


@dataclass
class Told:
    """When a notice should have left, and for which audiences its reader stands."""

    at: datetime
    audiences: set[str] = field(default_factory=set)


@dataclass
class Ledger:
    """The events up to an instant."""

    begun: dict[int, Begun] = field(default_factory=dict)
    given: dict[int, dict[int, date]] = field(default_factory=lambda: defaultdict(dict))
    ended: set[int] = field(default_factory=set)
    zones: dict[int, str] = field(default_factory=dict)
    addresses: dict[int, str] = field(default_factory=dict)

    def enter(self, event: Event) -> None:
        match event:
            case Begun():
                self.begun[event.course] = event
            case Given():
                self.given[event.course][event.dose] = event.on
            case Voided():
                del self.given[event.course][event.dose]
            case Ended():
                self.ended.add(event.course)
            case Resumed():
                self.ended.discard(event.course)
            case Moved():
                self.zones[event.course] = event.zone
            case Address():
                self.addresses[event.person] = event.email

    def plans(self) -> Iterator[tuple[Begun, list[Row]]]:
        for number, course in self.begun.items():
            if number not in self.ended:
                yield course, planned(course, self.given[number].values())


def planned(course: Begun, given: Iterable[date]) -> list[Row]:
    """The course's table on the doses that stand."""
    marks = sorted(given)
    start = marks[0] if marks else course.starts_on
    counted: list[date] = []
    for mark in marks:
        place = len(counted)
        if place == len(course.steps) or (counted and mark == counted[-1]):
            continue
        if counted:
            if mark < _soonest(course, start, counted[-1], place):
                continue
            late = (mark - _window(course, start, counted[-1], place)[1]).days
            if course.rule == "restart" and late > (course.restart_after or 0):
                counted, start = [], mark
        counted.append(mark)
    rows: list[Row] = []
    before: date | None = None
    for place in range(len(course.steps)):
        due, latest = _window(course, start, before, place)
        on = counted[place] if place < len(counted) else None
        rows.append((place + 1, due, latest, on))
        before = on or due
    return rows


def _window(course: Begun, start: date, before: date | None, place: int) -> tuple[date, date]:
    day, latest, _gap = course.steps[place]
    if before is None:
        return start, start + (latest - day) * DAY
    if course.rule == "keep-calendar":
        due = max(start + day * DAY, before + DAY)
        return due, max(due, start + latest * DAY)
    due = before + (day - course.steps[place - 1][0]) * DAY
    return due, due + (latest - day) * DAY


def _soonest(course: Begun, start: date, before: date, place: int) -> date:
    day, _latest, gap = course.steps[place]
    by_gap = before + max(1, gap) * DAY
    if course.rule == "keep-calendar":
        return max(before + DAY, min(by_gap, start + day * DAY))
    return by_gap


@cache
def hour_on(zone: str, day: date, hour: int) -> datetime:
    """The first minute at which the zone's clocks show `hour` of `day`, or anything later."""
    wanted = datetime(day.year, day.month, day.day, hour)
    minute = datetime(day.year, day.month, day.day, tzinfo=UTC) - DAY
    while minute.astimezone(ZoneInfo(zone)).replace(tzinfo=None) < wanted:
        # Far away a day's quarter is no risk; the clocks are never changed by so much.
        far = wanted - minute.astimezone(ZoneInfo(zone)).replace(tzinfo=None) > timedelta(hours=12)
        minute += timedelta(hours=6) if far else MINUTE
    return minute


def readers(site: SiteFacts, audience: str, address: str) -> tuple[str, ...]:
    if audience == "member":
        return (address,) if address else ()
    if audience == "liaison":
        return site.liaisons or site.officers
    return site.officers


class Recomputed:
    """Goes through the instants at which the service looked, entering the events before each.

    `plans[instant][course]` are the rows of a running course then; `told` every notice that should have left.
    """

    def __init__(self, events: list[Event], sites: dict[str, SiteFacts], looks: list[datetime]) -> None:
        self.sites, self.ledger = sites, Ledger()
        self.plans: dict[datetime, dict[int, list[Row]]] = {}
        self.told: dict[Key, Told] = {}
        waiting = sorted(events, key=lambda event: event.at)
        for look in looks:
            while waiting and waiting[0].at <= look:
                self.ledger.enter(waiting.pop(0))
            self.plans[look] = {}
            for course, rows in self.ledger.plans():
                self.plans[look][course.course] = rows
                self._tell(course, rows, look)

    def _tell(self, course: Begun, rows: list[Row], look: datetime) -> None:
        site = self.sites[course.site]
        for number, due, latest, on in rows:
            if on is None:
                for audience in ("liaison", "member", "officer"):
                    away = self.ledger.zones.get(course.course) if audience == "member" else None
                    self._tell_one(course, (number, due, latest), audience, away or site.zone, look)

    def _tell_one(
        self, course: Begun, dose: tuple[int, date, date], audience: str, zone: str, look: datetime
    ) -> None:
        number, due, latest = dose
        site, today = self.sites[course.site], look.astimezone(ZoneInfo(zone)).date()
        days = (today - due).days
        stage, audiences = TOLD.get(days, TOLD_DAILY)
        if days > 1 and today <= latest:
            return  # In its window: told on the day and the day after, and chased once the window has passed.
        if days < -1 or audience not in audiences or look < hour_on(zone, today, site.hour):
            return
        for address in readers(site, audience, self.ledger.addresses.get(course.person, "")):
            key = (course.course, number, due, stage, today, address)
            self.told.setdefault(key, Told(look)).audiences.add(audience)
