"""Sets of dates as tuples of intervals: sorted, apart from each other, both ends included, None for open."""

from collections.abc import Iterable
from datetime import date

from staff.rules.regimen.values import Interval

_FIRST, _LAST = date.min.toordinal(), date.max.toordinal()

Intervals = tuple[Interval, ...]
ALWAYS: Intervals = (Interval(date.min, None),)
NEVER: Intervals = ()


def merge(intervals: Iterable[Interval]) -> Intervals:
    """The same dates in the fewest intervals: overlapping and touching ones become one."""
    intervals = tuple(intervals)
    if len(intervals) < 2:
        return tuple(_interval(*_span(interval)) for interval in intervals)
    joined: list[tuple[int, int]] = []
    for start, end in sorted(_span(interval) for interval in intervals):
        if joined and start <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return tuple(_interval(start, end) for start, end in joined)


def intersect(a: Iterable[Interval], b: Iterable[Interval]) -> Intervals:
    """The dates that are in both."""
    a, b = tuple(a), tuple(b)
    # Most conditions of most people are met always.
    if ALWAYS in (a, b):
        return merge(b if a == ALWAYS else a)
    others = [_span(interval) for interval in merge(b)]
    common = []
    for start, end in (_span(interval) for interval in merge(a)):
        for other_start, other_end in others:
            low, high = max(start, other_start), min(end, other_end)
            if low <= high:
                common.append(_interval(low, high))
    return merge(common)


def subtract(a: Iterable[Interval], b: Iterable[Interval]) -> Intervals:
    """The dates of `a` that are not in `b`."""
    b = tuple(b)
    if not b:
        return merge(a)
    return intersect(a, _complement(merge(b)))


def covers(intervals: Iterable[Interval], day: date) -> bool:
    """Whether `day` is one of the dates."""
    return any(i.starts_on <= day and (i.ends_on is None or day <= i.ends_on) for i in intervals)


def first_day_from(intervals: Iterable[Interval], day: date) -> date | None:
    """The first of the dates that is `day` or after it, or None."""
    for interval in merge(intervals):
        if interval.ends_on is None or interval.ends_on >= day:
            return max(interval.starts_on, day)
    return None


def last_day_before(intervals: Iterable[Interval], day: date) -> date | None:
    """The last of the dates that is before `day`, or None."""
    ends = [min(_span(i)[1], day.toordinal() - 1) for i in intervals if i.starts_on < day]
    return date.fromordinal(max(ends)) if ends else None


def _complement(merged: Intervals) -> Intervals:
    gaps, start = [], _FIRST
    for low, high in (_span(interval) for interval in merged):
        if start < low:
            gaps.append(_interval(start, low - 1))
        start = high + 1
    if start <= _LAST:
        gaps.append(_interval(start, _LAST))
    return tuple(gaps)


def _span(interval: Interval) -> tuple[int, int]:
    end = _LAST if interval.ends_on is None else interval.ends_on.toordinal()
    return interval.starts_on.toordinal(), end


def _interval(start: int, end: int) -> Interval:
    return Interval(date.fromordinal(start), None if end >= _LAST else date.fromordinal(end))
