"""A site's date and hour as an instant, through every change of its clocks."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


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
