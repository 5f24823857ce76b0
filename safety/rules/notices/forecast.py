"""Which notices the coming days bring if nobody records anything."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from safety.rules.notices.follow_up import PlannedDose, PlanRow, Subject, WantedNotice, wanted_notices

FORTNIGHT = 14


@dataclass(frozen=True)
class Foreseen:
    """`planned`: wanted already today; else it comes only if nothing is recorded until then."""

    notice: WantedNotice
    planned: bool


def forecast(
    *,
    doses: Sequence[PlannedDose],
    plan: Sequence[PlanRow],
    today: date,
    ended: bool,
    what: Subject = Subject.DOSE,
    days: int = FORTNIGHT,
) -> tuple[Foreseen, ...]:
    """What is sent on `today` (the site's) and the days after it, `days` in all, by date.

    It asks the very rule by which the rows are made, once for each date, so the two can't disagree.
    """
    now = wanted_notices(doses=doses, plan=plan, today=today, ended=ended, what=what)
    found = [Foreseen(notice, planned=True) for notice in now if notice.send_on <= today]
    for number in range(1, days):
        day = today + timedelta(days=number)
        on_the_day = wanted_notices(doses=doses, plan=plan, today=day, ended=ended, what=what)
        found += [Foreseen(notice, notice in now) for notice in on_the_day if notice.send_on == day]
    return tuple(found)
