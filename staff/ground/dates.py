"""Date arithmetic that stops at the ends of the calendar instead of failing there."""

from calendar import monthrange
from datetime import date

from dateutil.relativedelta import relativedelta


def add_days(day: date, days: int) -> date:
    """`day` plus `days` (may be negative), held between date.min and date.max."""
    ordinal = day.toordinal() + days
    return date.fromordinal(min(max(ordinal, date.min.toordinal()), date.max.toordinal()))


def add_months(day: date, months: int) -> date:
    """The same day of the month `months` (0 or more) later, or that month's last day when it is shorter.

    31 August plus 6 months is 28 (or 29) February; 29 February plus 24 months is 28 February. Held at date.max.
    """
    if day.year * 12 + day.month - 1 + months > date.max.year * 12 + 11:
        return date.max
    return day + relativedelta(months=months)


def month_start(day: date) -> date:
    """The first day of the month of `day`."""
    return day.replace(day=1)


def month_end(day: date) -> date:
    """The last day of the month of `day`."""
    return day.replace(day=monthrange(day.year, day.month)[1])
