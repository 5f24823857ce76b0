"""A local date and hour as an instant, beside a search minute by minute through the clock changes of every zone.

Rules of the zones: the IANA time zone database (as installed). Gaps and folds as in PEP 495.
"""

from bisect import bisect_left
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import accumulate
from zoneinfo import ZoneInfo, available_timezones

import pytest

from safety.rules.notices.local_time import due_at

Change = tuple[datetime, timedelta, timedelta]
MINUTE = timedelta(minutes=1)
START, END = datetime(2026, 1, 1, tzinfo=UTC), datetime(2038, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "local_date", "hour", "instant"),
    [
        ("Asia/Kolkata", date(2026, 3, 2), 7, "2026-03-02T01:30Z"),
        ("UTC", date(2026, 3, 2), 0, "2026-03-02T00:00Z"),
        ("America/New_York", date(2026, 3, 8), 1, "2026-03-08T06:00Z"),
        ("America/New_York", date(2026, 3, 8), 2, "2026-03-08T07:00Z"),  # there is no 02:00
        ("America/New_York", date(2026, 3, 8), 3, "2026-03-08T07:00Z"),
        ("America/New_York", date(2026, 11, 1), 1, "2026-11-01T05:00Z"),  # the first of two
        ("America/New_York", date(2026, 11, 1), 2, "2026-11-01T07:00Z"),
        ("Australia/Lord_Howe", date(2026, 10, 4), 2, "2026-10-03T15:30Z"),  # a gap of half an hour
        ("Australia/Lord_Howe", date(2026, 4, 5), 2, "2026-04-04T15:30Z"),
        ("Africa/Cairo", date(2026, 4, 24), 0, "2026-04-23T22:00Z"),  # a date without midnight
        ("Pacific/Apia", date(2011, 12, 29), 23, "2011-12-30T09:00Z"),
        ("Pacific/Apia", date(2011, 12, 30), 0, "2011-12-30T10:00Z"),  # there is no such date
        ("Pacific/Apia", date(2011, 12, 30), 7, "2011-12-30T10:00Z"),
        ("Pacific/Apia", date(2011, 12, 30), 23, "2011-12-30T10:00Z"),
        ("Pacific/Apia", date(2011, 12, 31), 0, "2011-12-30T10:00Z"),
        ("Pacific/Apia", date(2011, 12, 31), 7, "2011-12-30T17:00Z"),
    ],
)
def test_well_known_changes_of_clocks(zone: str, local_date: date, hour: int, instant: str) -> None:
    due = due_at(local_date=local_date, hour=hour, zone=ZoneInfo(zone))
    assert due == datetime.fromisoformat(instant)
    assert due.tzinfo is UTC


@pytest.mark.parametrize("hour", [-1, 24])
def test_an_hour_that_is_none_is_refused(hour: int) -> None:
    with pytest.raises(ValueError, match="hour"):
        due_at(local_date=date(2026, 3, 2), hour=hour, zone=ZoneInfo("UTC"))


@cache
def changes(key: str) -> tuple[Change, ...]:
    """Every change of the zone's offset from START to END: instant, offset before, offset after."""
    zone = ZoneInfo(key)
    found = []
    day = START
    while day < END:
        following = day + timedelta(days=3)
        if _offset(day, zone) != _offset(following, zone):
            low, high = 0, 3 * 24 * 60
            while high - low > 1:
                middle = (low + high) // 2
                same = _offset(day + middle * MINUTE, zone) == _offset(day, zone)
                low, high = (middle, high) if same else (low, middle)
            found.append((day + high * MINUTE, _offset(day, zone), _offset(following, zone)))
        day = following
    return tuple(found)


def _offset(instant: datetime, zone: ZoneInfo) -> timedelta:
    offset = instant.astimezone(zone).utcoffset()
    assert offset is not None
    return offset


def targets(change: Change) -> list[datetime]:
    """Every hour of the local dates on which the clocks stood just before and just after the change."""
    instant, before, after = change
    dates = {(instant + offset).date() for offset in (before, after)}
    return [datetime.combine(day, time(hour)) for day in sorted(dates) for hour in range(24)]


def search(zone: ZoneInfo, around: datetime, wanted: list[datetime]) -> list[datetime]:
    """For each wall time, the first minute on which the zone's clocks show it or have shown something later."""
    minutes = [around + offset * MINUTE for offset in range(-27 * 60, 27 * 60)]
    shown = list(accumulate((m.astimezone(zone).replace(tzinfo=None) for m in minutes), max))
    return [minutes[bisect_left(shown, wall)] for wall in wanted]


def test_the_answer_is_the_first_minute_that_a_search_finds_around_every_change_to_2037() -> None:
    """Zones that change at the same instant by the same offsets share one search; all are asked for the answer."""
    found: dict[Change, list[datetime]] = {}
    asked = 0
    for key in sorted(available_timezones()):
        zone = ZoneInfo(key)
        for change in changes(key):
            wanted = targets(change)
            if change not in found:
                found[change] = search(zone, change[0], wanted)
            answers = [due_at(local_date=wall.date(), hour=wall.hour, zone=zone) for wall in wanted]
            assert answers == found[change], (key, change)
            asked += 1
    assert len(found) > 100  # the zone data are really there
    assert asked > len(found)


def test_away_from_changes_the_clock_shows_the_very_hour_in_every_zone() -> None:
    for key in sorted(available_timezones()):
        zone = ZoneInfo(key)
        due = due_at(local_date=date(2027, 6, 15), hour=7, zone=zone)
        assert due.astimezone(zone).replace(tzinfo=None) == datetime(2027, 6, 15, 7), key


def test_hours_of_one_date_never_run_backwards_and_the_next_date_follows() -> None:
    for key in (
        "America/New_York",
        "Africa/Cairo",
        "Australia/Lord_Howe",
        "Antarctica/Troll",
        "Pacific/Apia",
    ):
        zone = ZoneInfo(key)
        for change in changes(key):
            instants = [due_at(local_date=w.date(), hour=w.hour, zone=zone) for w in targets(change)]
            assert instants == sorted(instants)
