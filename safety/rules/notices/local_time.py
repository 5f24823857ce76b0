"""A site's date and hour as an instant, through every change of its clocks."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


def due_at(*, local_date: date, hour: int, zone: ZoneInfo) -> datetime:
    """The first instant (UTC) at which clocks in `zone` show `hour` (0-23) of `local_date`, or anything later.

    An hour the clocks repeat means its first time round; an hour or a whole date that they leave out becomes
    the instant of the change. Raises ValueError for an hour that is none.
    """
    wall = datetime.combine(local_date, time(hour))
    first = _as_utc(wall, zone, fold=0)
    if _wall(first, zone) == wall:
        return first
    return _end_of_gap(wall, zone, after=_as_utc(wall, zone, fold=1), by=first)


# How long after the site's own hour a reader's hour may come; decided here.
LATEST_AFTER_THE_SITE = timedelta(hours=3)


def clocks_of(*, local_date: date, hour: int, reader: str, site: str) -> str:
    """Whose clocks show the hour of a notice: the reader's, or the site's where the reader's would make it late.

    The reader's hour counts when it comes before the site's, or at most three hours after it and on the same date of
    the site's calendar: nobody is told of what is due today once the day is over there. Hour 0 means at once, and an
    empty or unknown zone is the site's.
    """
    if hour == 0 or not reader or reader == site:
        return site
    try:
        clocks = ZoneInfo(reader)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return site
    at_site = due_at(local_date=local_date, hour=hour, zone=ZoneInfo(site))
    at_reader = due_at(local_date=local_date, hour=hour, zone=clocks)
    if at_reader <= at_site:
        return reader
    same_date = at_reader.astimezone(ZoneInfo(site)).date() == local_date
    return reader if same_date and at_reader - at_site <= LATEST_AFTER_THE_SITE else site


def offsets_between(start: datetime, end: datetime, zone: ZoneInfo) -> list[tuple[datetime, int]]:
    """From which instant (UTC) on the clocks of `zone` are how many minutes ahead of UTC; the first is at `start`."""
    first = start.astimezone(UTC).replace(second=0, microsecond=0)
    found = [(first, _offset(first, zone))]
    quarters = int((end - first) / timedelta(minutes=15)) + 1
    for number in range(1, quarters + 1):
        # Every zone of the data changes its clocks at a quarter of an hour.
        at = first + timedelta(minutes=15 * number - first.minute % 15)
        if (offset := _offset(at, zone)) != found[-1][1]:
            found.append((at, offset))
    return found


def _offset(instant: datetime, zone: ZoneInfo) -> int:
    offset = instant.astimezone(zone).utcoffset()
    assert offset is not None
    return int(offset.total_seconds()) // 60


def _end_of_gap(wall: datetime, zone: ZoneInfo, *, after: datetime, by: datetime) -> datetime:
    """Search for the second at which the clocks jump past `wall`: somewhere later than `after` and not past `by`.

    In a gap, fold 0 reads the wall time by the offset before the change and fold 1 by the offset after it (PEP 495),
    so these two instants lie on either side of the change.
    """
    low, high = 0, int((by - after).total_seconds())
    while low < high:
        middle = (low + high) // 2
        if _wall(after + timedelta(seconds=middle), zone) >= wall:
            high = middle
        else:
            low = middle + 1
    return after + timedelta(seconds=low)


def _as_utc(wall: datetime, zone: ZoneInfo, *, fold: int) -> datetime:
    return wall.replace(tzinfo=zone, fold=fold).astimezone(UTC)


def _wall(instant: datetime, zone: ZoneInfo) -> datetime:
    return instant.astimezone(zone).replace(tzinfo=None, fold=0)
