"""On which days an area of a campaign is worked, and how many dogs each day takes.

How long an area takes and how its dogs spread is the planner's estimate: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta

from staff.rules.regimen.values import RuleError

ONE_DAY = timedelta(days=1)
# Days looked at for one day of work: a year holds a day of every weekday that isn't a holiday, or nobody works there.
LOOKED_AT = 366


def working_days(
    *, first: date, count: int, weekdays: Collection[int], holidays: Collection[date] = ()
) -> tuple[date, ...]:
    """The first `count` dates from `first` on that fall on `weekdays` (Monday 0) and on no holiday.

    Raises `RuleError` without a weekday, or where holidays leave none for a year.
    """
    chosen = set(weekdays) & set(range(7))
    if not chosen:
        raise RuleError("weekdays", "no day of the week is worked", code="no-weekday")
    found: list[date] = []
    day, idle = first, 0
    while len(found) < count:
        if day.weekday() in chosen and day not in holidays:
            found.append(day)
            idle = 0
        elif (idle := idle + 1) > LOOKED_AT:
            raise RuleError("weekdays", "holidays leave no day for a year", code="only-holidays")
        day += ONE_DAY
    return tuple(found)


def spread(dogs: int, days: int) -> tuple[int, ...]:
    """`dogs` over `days` as evenly as whole dogs allow; the sum is exact.

    Largest remainder with equal shares: each day has the whole part, and as all remainders are the same the dogs
    left over go to the first days, one each.
    """
    if days < 1:
        return ()
    each, over = divmod(dogs, days)
    return tuple(each + (number < over) for number in range(days))
