"""What no plan of a site may break, and the plan that holds when a site's own would."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from safety.rules.notices.follow_up import DEFAULT_PLAN, Audience, PlanRow, Subject

# Latest day after the due date from which what is overdue is told daily.
LATEST_DAILY = 2
# What is told earlier is forgotten by the day; told in the afternoon of it, the clinic is closed. Common practice, no source.
IN_TIME_DAYS = (-1, 0)
LATEST_HOUR_OF_THE_DAY = 12
# A plan reaches so many days before and after a date: longer is a slip of the pen.
FURTHEST = 30


class Break(StrEnum):
    """What a plan leaves out."""

    NOT_IN_TIME = "not-in-time"
    NOT_DAILY = "not-daily"
    TOO_FAR = "too-far"
    TWICE = "twice"
    NOBODY = "nobody"


@dataclass(frozen=True)
class Promise:
    """Who is told on the day before or by noon of the due date, and who daily from `LATEST_DAILY` days after it at the latest."""

    in_time: frozenset[Audience]
    daily: frozenset[Audience]


_DESK = frozenset({Audience.LIAISON, Audience.OFFICER})
PROMISES = {
    Subject.DOSE: Promise(frozenset({Audience.LIAISON, Audience.MEMBER}), frozenset(Audience)),
    # Its date is the report's own, which is told at once without any plan.
    Subject.VISIT: Promise(frozenset(), frozenset(Audience)),
    Subject.DECISION: Promise(frozenset(), _DESK),
    Subject.TITRE: Promise(frozenset({Audience.LIAISON}), frozenset({Audience.LIAISON})),
}


def stage_of(what: Subject, offset_days: int, *, repeats_daily: bool) -> str:
    """The kind of the notices a row makes; those of the shipped plan keep their names."""
    if what != Subject.DOSE:
        return {"visit": "visit-late", "decision": "decision-late", "titre": "titre-due"}[what]
    if repeats_daily or offset_days > 1:
        return "overdue"
    return {-1: "day-before", 0: "day-of", 1: "day-after"}.get(offset_days, "days-before")


def plan_row(
    what: Subject,
    offset_days: int,
    audiences: Sequence[Audience],
    *,
    repeats_daily: bool = False,
    hour: int | None = None,
) -> PlanRow:
    """A row with the stage that follows from it. Raises RuleError as `PlanRow` does."""
    stage = stage_of(what, offset_days, repeats_daily=repeats_daily)
    return PlanRow(stage, offset_days, tuple(audiences), repeats_daily, what, hour)


def about(plan: Sequence[PlanRow], what: Subject) -> tuple[PlanRow, ...]:
    return tuple(row for row in plan if row.what == what)


def breaks(rows: Sequence[PlanRow], what: Subject) -> tuple[tuple[Break, Audience | None], ...]:
    """What a plan's rows about one subject leave out, and for whom; empty when they may stand."""
    rows, promise = about(rows, what), PROMISES[what]
    found: list[tuple[Break, Audience | None]] = []
    days = [(row.offset_days, row.repeats_daily) for row in rows]
    if any(abs(row.offset_days) > FURTHEST for row in rows):
        found.append((Break.TOO_FAR, None))
    if len(set(days)) < len(days):
        found.append((Break.TWICE, None))
    if any(not row.audiences for row in rows):
        found.append((Break.NOBODY, None))
    for audience in Audience:
        told = [row for row in rows if audience in row.audiences]
        if audience in promise.in_time and not any(_in_time(row) for row in told):
            found.append((Break.NOT_IN_TIME, audience))
        daily = any(row.repeats_daily and row.offset_days <= LATEST_DAILY for row in told)
        if audience in promise.daily and not daily:
            found.append((Break.NOT_DAILY, audience))
    return tuple(found)


def _in_time(row: PlanRow) -> bool:
    if row.offset_days == 0 and row.hour is not None and row.hour > LATEST_HOUR_OF_THE_DAY:
        return False
    return row.offset_days in IN_TIME_DAYS


def sound_plan(rows: Sequence[PlanRow]) -> tuple[PlanRow, ...]:
    """The plan that holds: for each subject the site's own rows where they keep the promises, else the shipped ones.

    So a site without rows has the shipped plan, and no row that is missing or damaged leaves anybody untold.
    """
    return tuple(row for what in Subject for row in about(DEFAULT_PLAN if breaks(rows, what) else rows, what))
