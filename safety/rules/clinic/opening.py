"""Opening hours on a site's holidays: what the open syntax leaves to a calendar, written out as dates.

The syntax is OpenStreetMap's `opening_hours` (its specification, version 0.7). There PH stands for public holidays and whoever
reads the hours brings the calendar; ours is the site's own list, so every rule about PH becomes one rule a date.
"""

import re
from collections.abc import Iterable
from datetime import date

from staff.rules.regimen.values import RuleError

# A number: strftime and the calendar module name months in the language of the machine.
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAY = r"(?:Mo|Tu|We|Th|Fr|Sa|Su)"
_DAYS = rf"{_DAY}(?:-{_DAY})?(?:,{_DAY}(?:-{_DAY})?)*"
# PH alone, or in one list with days of the week: "PH off", "Sa,PH 09:00-12:00", "PH,Su off".
_HOLIDAY_RULE = re.compile(
    rf"^(?:(?P<before>{_DAYS}),)?PH(?:,(?P<after>{_DAYS}))?\s+(?P<rest>(?:\d|off\b|closed\b|open\b).*)$"
)
_TIMES = re.compile(r"(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})")
_QUOTED = re.compile(r'"[^"]*"')
_HOLIDAY = re.compile(r"\bPH\b")
# What can't be turned into clock times of a stated day without knowing more than the list does.
_UNREADABLE = (
    (re.compile(r"\bSH\b"), "school-holidays"),
    (re.compile(r"\b(?:sunrise|sunset|dawn|dusk)\b"), "sun"),
    (re.compile(r"\d\+"), "open-end"),
)


def holiday_hours(hours: str, holidays: Iterable[date]) -> str:
    """`hours` with every rule about PH written out for `holidays`.

    Where nothing is said about holidays, hours other than 24/7 are taken not to hold on them: nobody has said so
    (decided here, on the side of caution). Raises RuleError, field "hours", for what can't be written out; its
    code is "empty", "school-holidays", "sun", "open-end", "over-midnight" or "holiday-form".
    """
    if not hours.strip():
        raise RuleError("hours", "No hours are stated.", "empty")
    said = _QUOTED.sub('""', hours)
    for pattern, code in _UNREADABLE:
        if pattern.search(said):
            raise RuleError("hours", f"These hours hold what can't be read as clock times: {code}.", code)
    if runs_over_midnight(said) and re.search(r"24:00|24/7|\bopen\b", said):
        # Whether the door shuts at midnight or goes on would hang on which rule the day before had.
        raise RuleError("hours", "Hours over midnight stand beside hours that end at it.", "over-midnight")
    days = sorted(set(holidays))
    rules = [written for rule in _rules(hours) for written in _written_out(rule, days)]
    if not _HOLIDAY.search(said) and hours.strip() != "24/7":
        rules += [f"{_named(day)} off" for day in days]
    return "; ".join(rules) or "off"


def runs_over_midnight(hours: str) -> bool:
    """Whether some time ends on the day after it began: "20:00-02:00" or "20:00-26:00"."""
    spans = ([int(part) for part in found.groups()] for found in _TIMES.finditer(hours))
    return any((h2, m2) <= (h1, m1) or (h2, m2) > (24, 0) for h1, m1, h2, m2 in spans)


def _rules(hours: str) -> list[str]:
    """The rules between semicolons, of which those inside quotes are none."""
    parts = re.findall(r'(?:"[^"]*"|[^;"])+', hours)
    return [part.strip() for part in parts if part.strip()]


def _written_out(rule: str, days: list[date]) -> list[str]:
    if not _HOLIDAY.search(_QUOTED.sub('""', rule)):
        return [rule]
    form = _HOLIDAY_RULE.match(rule)
    if form is None or _HOLIDAY.search(_QUOTED.sub('""', form["rest"])):
        raise RuleError("hours", "PH needs a rule of its own, with times or off.", "holiday-form")
    weekdays = [f"{part} {form['rest']}" for part in (form["before"], form["after"]) if part]
    return weekdays + [f"{_named(day)} {form['rest']}" for day in days]


def _named(day: date) -> str:
    return f"{day.year:04d} {_MONTHS[day.month - 1]} {day.day:02d}"
