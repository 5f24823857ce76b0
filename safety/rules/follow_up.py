"""Which notices about a course's doses should exist, for whom and on which date."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from staff.rules.values import RuleError


class Audience(StrEnum):
    LIAISON = "liaison"
    MEMBER = "member"
    OFFICER = "officer"


@dataclass(frozen=True)
class PlanRow:
    """One row of a site's plan: `offset_days` from the dose's due date, once or on every day from then on.

    A row after the due date is about a dose nobody has recorded. Raises RuleError for a row that repeats
    before the dose is overdue, for it would never end.
    """

    stage: str
    offset_days: int
    audiences: tuple[Audience, ...]
    repeats_daily: bool = False

    def __post_init__(self) -> None:
        if self.repeats_daily and self.offset_days < 1:
            raise RuleError("offset_days", "Only a notice after the due date may repeat.", "repeats-too-soon")


@dataclass(frozen=True)
class PlannedDose:
    step: int
    due_on: date
    given_on: date | None


@dataclass(frozen=True)
class WantedNotice:
    """A notice that should exist; `send_on` is a date of the site's own calendar."""

    stage: str
    step: int
    due_on: date
    send_on: date
    audience: Audience


# What is late is told to all three, daily, until the dose is on record or the course has ended.
DEFAULT_PLAN = (
    PlanRow("day-before", -1, (Audience.LIAISON, Audience.MEMBER)),
    PlanRow("day-of", 0, (Audience.LIAISON, Audience.MEMBER)),
    PlanRow("day-after", 1, tuple(Audience)),
    PlanRow("overdue", 2, tuple(Audience), repeats_daily=True),
)


def wanted_notices(
    *, doses: Iterable[PlannedDose], plan: Sequence[PlanRow], today: date, ended: bool
) -> tuple[WantedNotice, ...]:
    """Every notice that should exist on `today` (the site's date), sent or not, by date of sending.

    A dose that was given, and a course that has ended, want none. Notices up to the due date are wanted as
    soon as the dose is planned; those after it only once their own date has come, for by then the dose may be
    recorded. For one dose and one audience, the newest notice whose date has come replaces the older ones:
    nobody is told "tomorrow" on the day itself.
    """
    if ended:
        return ()
    found: set[WantedNotice] = set()
    for dose in doses:
        if dose.given_on is None:
            found |= {
                notice for audience in Audience for notice in _for_audience(dose, plan, today, audience)
            }
    return tuple(sorted(found, key=lambda n: (n.send_on, n.step, n.stage, n.audience)))


def _for_audience(
    dose: PlannedDose, plan: Sequence[PlanRow], today: date, audience: Audience
) -> list[WantedNotice]:
    dated = [
        (row.stage, send_on)
        for row in plan
        if audience in row.audiences
        if (send_on := _send_on(row, dose.due_on, today)) <= today or row.offset_days <= 0
    ]
    newest = max((send_on for _, send_on in dated if send_on <= today), default=date.min)
    return [
        WantedNotice(stage, dose.step, dose.due_on, send_on, audience)
        for stage, send_on in dated
        if send_on >= newest
    ]


def _send_on(row: PlanRow, due_on: date, today: date) -> date:
    """The row's date; of one that repeats, today's turn once it has begun."""
    first = due_on + timedelta(days=row.offset_days)
    return max(first, today) if row.repeats_daily else first


class Stage(StrEnum):
    """When a notice about a date of somebody's own record is sent."""

    SOON = "soon"
    TODAY = "today"
    LATE = "late"


# Before field work: a week ahead and on the day; what is late, to the officer once a week. Common practice, no source.
RECORD_PLAN = (
    PlanRow(Stage.SOON, -7, (Audience.LIAISON, Audience.MEMBER)),
    PlanRow(Stage.TODAY, 0, (Audience.LIAISON, Audience.MEMBER)),
)
# A clinician's letter that runs out: the officer is told in time too, for a new one takes somebody's doing.
LETTER_PLAN = tuple(
    PlanRow(row.stage, row.offset_days, (*row.audiences, Audience.OFFICER)) for row in RECORD_PLAN
)
# How far ahead a date is looked at: the longest notice, and a day because sites' calendars differ.
LOOK_AHEAD = timedelta(days=8)


def record_notices(
    *, due_on: date, today: date, plan: Sequence[PlanRow] = RECORD_PLAN
) -> tuple[tuple[str, date, Audience], ...]:
    """Stage, date of sending and audience of every notice a date of a record wants on `today` (the site's).

    Nothing after the date itself: what is late is told once a week for the whole site (see `week_turn`). As with
    a course, the newest notice whose date has come replaces the older ones.
    """
    if due_on < today or due_on > today + LOOK_AHEAD:
        return ()
    dose = PlannedDose(step=0, due_on=due_on, given_on=None)
    return tuple(
        (stage, send_on, audience)
        for audience in Audience
        for stage, send_on in (
            (notice.stage, notice.send_on) for notice in _for_audience(dose, plan, today, audience)
        )
    )


def week_turn(*, first_late: date, today: date) -> date:
    """The date in `today`'s week (Monday first) on which what is late is told: Monday, or the first late day.

    `first_late` is the earliest date that passed undone; it is late from the day after. Raises ValueError when
    nothing is late yet.
    """
    if first_late >= today:
        raise ValueError("nothing is late yet")
    monday = today - timedelta(days=today.weekday())
    return max(monday, first_late + timedelta(days=1))
