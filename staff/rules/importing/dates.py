"""Dates of a sheet, read only where they can mean one day."""

from __future__ import annotations

import re
from datetime import date
from enum import StrEnum

from staff.rules.importing.cells import ERROR, FORMULA, Cell
from staff.rules.importing.findings import Problem


class DateFormat(StrEnum):
    """How the officer says the written dates of a file are meant. ISO 8601 and real dates are read under each."""

    ISO = "iso"
    DAY_FIRST = "day-month-year"
    MONTH_FIRST = "month-day-year"


class Unreadable(Exception):
    """The cell isn't a date that can mean one day only; `problem` says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem)
        self.problem = problem


# ISO 8601 calendar date, extended form; the midnight some programs write behind it is let pass.
_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_THREE = re.compile(r"([0-9]{1,2})([/.\- ])([0-9]{1,2})\2([0-9]{1,4})")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")


def read_date(cell: Cell, chosen: DateFormat) -> date:
    """The day a cell names; raises `Unreadable`.

    A real date of the spreadsheet and an ISO date stand for themselves. Three numbers such as 03/04/2026 are
    refused until the officer has chosen which of them is the day, even where only one reading exists: a
    file holds both kinds, and guessing row by row would swap some. Years of two digits and bare numbers never pass.
    """
    if cell.fault:
        raise Unreadable({FORMULA: Problem.CELL_FORMULA, ERROR: Problem.CELL_ERROR}[cell.fault])
    if cell.day is not None:
        return cell.day
    if iso := _ISO.fullmatch(cell.text):
        year, month, day = map(int, iso.groups())
        return _day(year, month, day)
    if three := _THREE.fullmatch(cell.text):
        first, second, year_text = three.group(1), three.group(3), three.group(4)
        if len(year_text) != 4:
            raise Unreadable(Problem.DATE_SHORT_YEAR)
        if chosen is DateFormat.ISO:
            raise Unreadable(Problem.DATE_FORMAT_NEEDED)
        day_text, month_text = (first, second) if chosen is DateFormat.DAY_FIRST else (second, first)
        return _day(int(year_text), int(month_text), int(day_text))
    raise Unreadable(Problem.DATE_NUMBER if _NUMBER.fullmatch(cell.text) else Problem.DATE_TEXT)


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise Unreadable(Problem.DATE_IMPOSSIBLE) from None
