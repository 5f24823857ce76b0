"""How many days in a row somebody may be out, and the days off that follow.

They bind proposals; by hand the grid asks back, and no other door does.
"""

from collections.abc import Iterator, Set
from dataclasses import dataclass
from datetime import date, timedelta

DAY = timedelta(days=1)


@dataclass(frozen=True)
class RestRules:
    """At most `longest_run` days in a row, and `rest_days` days off after so many. Common practice, no source."""

    longest_run: int
    rest_days: int

    @property
    def reach(self) -> timedelta:
        """How far from a date the dates lie that can matter to it."""
        return (self.longest_run + self.rest_days) * DAY

    def windows(self, first: date, last: date) -> Iterator[tuple[date, ...]]:
        """Sets of dates of which one at least must be off: each longest run that may begin from `first` to `last`, with
        one of the days off after it."""
        for offset in range((last - first).days + 1):
            run = tuple(first + (offset + number) * DAY for number in range(self.longest_run))
            for number in range(1, self.rest_days + 1):
                yield (*run, run[-1] + number * DAY)


def misses_day_off(out: Set[date], day: date, rest: RestRules) -> bool:
    """Whether somebody who is out on the dates `out` would miss a day off by being out on `day` too."""
    dates = out | {day}
    return any(day in window and dates >= set(window) for window in rest.windows(day - rest.reach, day))
