"""When a clinic is open: hours in the open syntax, read by a library and turned into instants."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

# The library exports ParserError and its stubs forget to say so.
from opening_hours import OpeningHours, ParserError, State  # type: ignore[attr-defined]

from safety.rules.clinic.clinic_choice import Span
from safety.rules.clinic.opening import holiday_hours, runs_over_midnight
from staff.rules.regimen.values import RuleError


def read_hours(hours: str, holidays: Iterable[date] = ()) -> OpeningHours:
    """The hours as the library reads them; raises RuleError for what isn't in the syntax or can't be reckoned."""
    try:
        return OpeningHours(holiday_hours(hours, holidays), auto_country=False, auto_timezone=False)
    except ParserError as error:
        raise RuleError("hours", f"Not in the syntax of opening hours: {error}", "syntax") from error


def open_spans(
    hours: str, *, zone: ZoneInfo, holidays: Iterable[date], start: datetime, end: datetime
) -> list[Span] | None:
    """When the clinic is open between two aware instants, in UTC; None when its hours can't be read.

    The library answers in the clocks of the wall. Where a change of clocks shows a time twice or never, the
    narrower reading is taken, so that nobody is sent to a closed door. For the same reason hours over midnight
    need an open evening before them: the library goes on past midnight even after a day it calls closed.
    """
    try:
        read = read_hours(hours, holidays)
    except RuleError:
        return None
    first = start.astimezone(zone).replace(tzinfo=None) - timedelta(days=1)
    last = end.astimezone(zone).replace(tzinfo=None) + timedelta(days=1)
    overnight = runs_over_midnight(hours)
    spans = [
        Span(
            max(start.astimezone(UTC), _instant(opens, zone, max)),
            min(end.astimezone(UTC), _instant(closes, zone, min)),
        )
        for opens, closes, state, _comment in read.intervals(first, last)
        if state == State.OPEN and not (overnight and opens.time() == time.min)
    ]
    return [span for span in spans if span.opens_at < span.closes_at]


def _instant(wall: datetime, zone: ZoneInfo, narrower: Callable[[list[datetime]], datetime]) -> datetime:
    readings = [wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    return narrower(readings)
