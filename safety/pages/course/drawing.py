"""A course as a drawing: whole numbers for the SVG template, one row a dose. A table with the same facts stands beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from safety.models import PlannedDose
from safety.words import State, dose_state

# 270 units fit inside a card on a 320-pixel phone one to one; text stays readable without scrolling.
WIDTH, LEFT, RIGHT, ROW, TOP = 270, 64, 12, 40, 26


@dataclass(frozen=True)
class Row:
    """One dose: its window from `due_x` to `latest_x`, and where it was given if it was."""

    dose: PlannedDose
    state: State
    y: int
    due_x: int
    window_width: int
    given_x: int | None


@dataclass(frozen=True)
class Drawing:
    width: int
    height: int
    left: int
    right: int
    today_x: int | None
    today_label_x: int
    rows: list[Row]


def draw_course(doses: Sequence[PlannedDose], today: date) -> Drawing:
    """Place the doses along the days from the first to the last date that matters; `today` only inside them."""
    dates = [d for dose in doses for d in (dose.due_on, dose.latest_on, dose.given_on) if d is not None]
    first, last = min([*dates, today]), max([*dates, today])
    days = max(1, (last - first).days)

    def x(day: date) -> int:
        return LEFT + (WIDTH - LEFT - RIGHT) * (day - first).days // days

    rows = [
        Row(
            dose=dose,
            state=dose_state(dose, today),
            y=TOP + ROW * place + ROW // 2,
            due_x=x(dose.due_on),
            window_width=max(8, x(dose.latest_on) - x(dose.due_on)),
            given_x=x(dose.given_on) if dose.given_on else None,
        )
        for place, dose in enumerate(doses)
    ]
    return Drawing(
        width=WIDTH,
        height=TOP + ROW * len(doses) + 6,
        left=LEFT,
        right=WIDTH - RIGHT,
        today_x=x(today),
        today_label_x=min(max(x(today), LEFT + 10), WIDTH - 26),
        rows=rows,
    )
