"""What a crew has to know of an outing besides where and when: one list of fields that every page and door reads."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo


@dataclass(frozen=True)
class OutingDetails:
    """`start_time` is by the site's clocks; the position in degrees on WGS 84; empty is not known."""

    start_time: time | None = None
    meeting_place: str = ""
    meeting_latitude: float | None = None
    meeting_longitude: float | None = None
    day_phone: str = ""
    note: str = ""


DETAILS = tuple(field.name for field in fields(OutingDetails))
# Who goes by the old ones waits at the wrong hour or place; they can't change any more once every crew has left.
GONE_BY = ("start_time", "meeting_place", "meeting_latitude", "meeting_longitude")


def gone_by(details: OutingDetails) -> tuple[object, ...]:
    return tuple(getattr(details, name) for name in GONE_BY)


def instant_of(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """A wall time as an instant: of an hour the clocks repeat the first, of one they leave out the one they jump to."""
    return datetime.combine(day, clock, zone).astimezone(UTC)


def is_left_out(day: date, clock: time, zone: ZoneInfo) -> bool:
    """Whether the clocks jump over this time on that day."""
    return instant_of(day, clock, zone).astimezone(zone).time() != clock
