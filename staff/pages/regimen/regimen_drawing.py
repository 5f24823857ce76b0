"""The drawing of tried dates: what was entered, and the plan that follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.ground.dates import add_days
from staff.pages.record.timeline import LANE, TOP, Bar, Lane, Mark, Scale, Sheet, Tick, Timeline
from staff.rules.record.series import DoseResult
from staff.rules.regimen.schedule import Schedule

AROUND = 3
TICK_DAYS = (7, 14, 28, 56, 91, 182)


def draw_trial(doses: Sequence[DoseResult], schedule: Schedule | None, on: date, sheet: Sheet) -> Timeline:
    """Two lanes on one line of dates: the doses entered, and the plan with a bar for each window."""
    planned = schedule.steps if schedule else ()
    days = [on, *(one.dose.given_on for one in doses)]
    days += [day for step in planned for day in (step.due_on, step.latest_on)]
    scale = Scale(sheet, add_days(min(days), -AROUND), add_days(max(days), AROUND))
    entered, plan = (
        Lane(TOP + LANE * row + LANE // 2, name) for row, name in enumerate((_("Doses"), _("Plan")))
    )
    marks = [
        Mark(scale.x(one.dose.given_on), entered.y, "counts" if one.counts else "other", str(one.step or ""))
        for one in doses
    ]
    marks += [Mark(scale.x(step.due_on), plan.y, "due", str(step.number)) for step in planned]
    bars = [
        Bar(scale.x(step.due_on), plan.y - 9, max(scale.x(step.latest_on) - scale.x(step.due_on), 1), "clear")
        for step in planned
        if step.latest_on > step.due_on
    ]
    bottom = TOP + LANE * 2
    return Timeline(
        sheet=sheet,
        height=bottom + 30,
        bottom=bottom,
        today_x=scale.x(on),
        lanes=(entered, plan),
        bars=tuple(bars),
        marks=tuple(marks),
        ticks=_ticks(scale),
    )


def _ticks(scale: Scale) -> tuple[Tick, ...]:
    """Weeks from the first date on, as many as the sheet has room for."""
    span = (scale.last - scale.first).days
    most = scale.sheet.most_ticks
    step = next((step for step in TICK_DAYS if span <= step * most), span // most + 1)
    days = [add_days(scale.first, offset) for offset in range(step // 2, span + 1, step)]
    written = "j M" if span < TICK_DAYS[-1] else "M Y"
    return tuple(Tick(scale.x(day), date_format(day, written)) for day in days)
