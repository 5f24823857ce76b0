"""Where things lie on the drawing of one record: whole units of the SVG, so that no locale gets in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.ground.dates import add_days, add_months
from staff.models import Titre
from staff.rules.record.series import NextDose
from staff.selectors.record.record_sheet import RecordSheet
from staff.selectors.record.records import rows_of

TOP, LANE = 34, 40
# Space after the last thing, so that an open interval is seen to go on.
AHEAD, BEFORE = timedelta(days=45), timedelta(days=10)
TICK_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)


@dataclass(frozen=True)
class Sheet:
    """The room a drawing has. `name` keeps the two on one page apart."""

    name: str
    width: int
    left: int
    right: int
    most_ticks: int


WIDE = Sheet("wide", 900, 120, 860, 8)
NARROW = Sheet("narrow", 400, 96, 364, 3)


@dataclass(frozen=True)
class Mark:
    """A thing on one date; `kind` names its look, `text` stands in it."""

    x: int
    y: int
    kind: str
    text: str = ""


@dataclass(frozen=True)
class Bar:
    x: int
    y: int
    width: int
    kind: str


@dataclass(frozen=True)
class Lane:
    y: int
    name: str


@dataclass(frozen=True)
class Tick:
    x: int
    text: str


@dataclass(frozen=True)
class Timeline:
    sheet: Sheet
    height: int
    bottom: int
    today_x: int
    lanes: tuple[Lane, ...]
    bars: tuple[Bar, ...]
    marks: tuple[Mark, ...]
    ticks: tuple[Tick, ...]


class Scale:
    """Dates as places across a sheet."""

    def __init__(self, sheet: Sheet, first: date, last: date) -> None:
        self.sheet, self.first, self.last = sheet, first, last

    def x(self, day: date) -> int:
        inside = min(max(day, self.first), self.last)
        room = self.sheet.right - self.sheet.left
        return self.sheet.left + round(room * (inside - self.first).days / (self.last - self.first).days)

    def ticks(self) -> tuple[Tick, ...]:
        months = (self.last - self.first).days // 30 + 1
        step = next((step for step in TICK_MONTHS if months / step <= self.sheet.most_ticks), TICK_MONTHS[-1])
        day = add_months(self.first.replace(day=1), step)
        ticks = []
        while day <= self.last:
            ticks.append(Tick(self.x(day), date_format(day, "M Y")))
            day = add_months(day, step)
        return tuple(ticks)


def draw(shown: RecordSheet, sheet: Sheet) -> Timeline:
    """The drawing of a record: clear dates, doses given and due, titres, briefings, holds, today."""
    scale = _scale(shown, sheet)
    names = [_("Clear"), _("Doses"), _("Titres"), _("Briefings"), _("Held")]
    lanes = tuple(Lane(TOP + LANE * row + LANE // 2, name) for row, name in enumerate(names))
    clear, doses, titres, briefings, held = (lane.y for lane in lanes)
    spans = [(span.starts_on, span.ends_on, clear, "clear") for span in shown.intervals]
    spans += [(hold.starts_on, hold.ends_on, held, "held") for hold in shown.person.holds.all()]
    marks = [
        Mark(scale.x(line.dose.given_on), doses, "counts" if line.counts else "other", str(line.step or ""))
        for line in shown.lines
    ]
    marks += [Mark(scale.x(dose.due_on), doses, "due", str(dose.number)) for dose in _due(shown)]
    marks += [Mark(scale.x(titre.taken_on), titres, "titre") for titre in _titres(shown)]
    marks += [Mark(scale.x(one.held_on), briefings, "briefing") for one in shown.person.briefings.all()]
    bottom = TOP + LANE * len(lanes)
    return Timeline(
        sheet=sheet,
        height=bottom + 30,
        bottom=bottom,
        today_x=scale.x(shown.today),
        lanes=lanes,
        bars=tuple(_bar(scale, *span) for span in spans),
        marks=tuple(marks),
        ticks=scale.ticks(),
    )


def _titres(shown: RecordSheet) -> list[Titre]:
    """A voided one is in the table beside it, struck out; drawn it would look like any other."""
    return [titre for titre in rows_of(shown.person, "titres") if titre.voided_at is None]


def _due(shown: RecordSheet) -> tuple[NextDose, ...]:
    return shown.outlook.doses if shown.outlook else ()


def _scale(shown: RecordSheet, sheet: Sheet) -> Scale:
    person = shown.person
    days = [line.dose.given_on for line in shown.lines]
    days += [titre.taken_on for titre in _titres(shown)]
    days += [briefing.held_on for briefing in person.briefings.all()]
    days += [hold.starts_on for hold in person.holds.all()]
    days += [dose.due_on for dose in _due(shown)]
    return Scale(sheet, min([*days, shown.today]) - BEFORE, max([*days, shown.today]) + AHEAD)


def _bar(scale: Scale, starts_on: date, ends_on: date | None, y: int, kind: str) -> Bar:
    start = scale.x(starts_on)
    # The bar reaches to the end of its last day; a bar off the drawing keeps one unit so that it is seen.
    end = scale.sheet.right if ends_on is None else scale.x(add_days(ends_on, 1))
    return Bar(start, y - 9, max(end - start, 1), kind)
