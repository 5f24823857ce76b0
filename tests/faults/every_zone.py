"""Every hour of every date in every time zone to the end of 2037: `python -m tests.faults.every_zone`.

`due_at` is asked for each of them and compared with a search that knows only what the zone's clocks show: hour by hour
through the years, minute by minute through each hour in which they change, and then the first minute on which they
show the wall time asked for, or anything later. Zones as installed (IANA time zone database); several names for one zone
are asked one by one. Some minutes of work; --hours and --years make it short. Exit 1 when an answer differs.
Measured, busy: 599 zones with 4,828 changes in 571 s.
"""

from __future__ import annotations

import argparse
import sys
import time
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

from safety.rules.notices.local_time import due_at

FIRST, LAST = 2026, 2037
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)

# A stretch between two changes: its first minute, the first minute after it, and the offset that holds.
Stretch = tuple[datetime, datetime, timedelta]


def offset(instant: datetime, zone: ZoneInfo) -> timedelta:
    found = instant.astimezone(zone).utcoffset()
    assert found is not None
    return found


def stretches(zone: ZoneInfo, start: datetime, end: datetime) -> list[Stretch]:
    """The times between `start` and `end` in which the zone's clocks run evenly."""
    found: list[Stretch] = []
    since, held, hour = start, offset(start, zone), start
    while hour < end:
        if offset(hour + HOUR, zone) != held:
            for minute in (hour + n * MINUTE for n in range(1, 61)):
                if (now_held := offset(minute, zone)) != held:
                    found.append((since, minute, held))
                    since, held = minute, now_held
        hour += HOUR
    return [*found, (since, end, held)]


def first_minute(parts: list[Stretch], wall: datetime) -> datetime:
    """The first minute on which the clocks show `wall` (its zone left out) or anything later."""
    for since, until, held in parts:
        if until + held > wall:
            return max(since, wall - held)
    raise ValueError(f"{wall} lies outside")


def disagreements(key: str, first: int, last: int, hours: range) -> tuple[int, int, list[str]]:
    """How many hours of dates were asked for in this zone, how many changes it has, and where the answer differs."""
    zone, wrong, asked, at = ZoneInfo(key), [], 0, 0
    start, end = datetime(first, 1, 1, tzinfo=UTC), datetime(last + 1, 1, 1, tzinfo=UTC)
    parts = stretches(zone, start - 2 * DAY, end + 2 * DAY)
    # Without their zone, for they are compared with wall times.
    bare = [(since.replace(tzinfo=None), until.replace(tzinfo=None), held) for since, until, held in parts]
    day = date(first, 1, 1)
    while day.year <= last:
        midnight = datetime(day.year, day.month, day.day)
        while bare[at][1] + bare[at][2] <= midnight:
            at += 1
        for hour in hours:
            wanted = first_minute(bare[at:], midnight + hour * HOUR)
            if due_at(local_date=day, hour=hour, zone=zone) != wanted.replace(tzinfo=UTC):
                wrong.append(f"{key} {day} {hour:02}")
            asked += 1
        day += DAY
    return asked, len(parts) - 1, wrong


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--years", type=int, nargs=2, default=(FIRST, LAST), metavar=("FIRST", "LAST"))
    parser.add_argument("--hours", type=int, nargs=2, default=(0, 23), metavar=("FIRST", "LAST"))
    options = parser.parse_args(arguments)
    started, zones, asked, changes, wrong = time.monotonic(), sorted(available_timezones()), 0, 0, []
    for key in zones:
        a, c, w = disagreements(key, *options.years, range(options.hours[0], options.hours[1] + 1))
        asked, changes, wrong = asked + a, changes + c, wrong + w
    sys.stdout.write(
        f"{len(zones)} zones, {changes} changes of clocks from {options.years[0]} through {options.years[1]}, "
        f"{asked} hours of dates asked for, {len(wrong)} wrong, {time.monotonic() - started:.0f} s\n"
    )
    for line in wrong[:20]:
        sys.stdout.write(f"  {line}\n")
    sys.stdout.write("BROKEN\n" if wrong else "kept\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
