"""Which notices about a course's doses and a case's open steps should exist, for whom and on which date."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from safety.rules.course.dose_due import overdue_from
from staff.ground.roles import Role
from staff.rules.regimen.values import RuleError


class Audience(StrEnum):
    LIAISON = Role.LIAISON.value
    MEMBER = Role.MEMBER.value
    OFFICER = Role.OFFICER.value


class Subject(StrEnum):
    """What a row of a plan is about."""

    DOSE = "dose"
    VISIT = "visit"
    DECISION = "decision"
    TITRE = "titre"


@dataclass(frozen=True)
class PlanRow:
    """One row of a site's plan: `offset_days` from the due date, once or on every day from then on.

    A dose with a window is chased only from the day after it: a row that repeats, or that lies more than a day after
    the due date, doesn't begin before.

    A row after the due date is about what nobody has recorded. `hour` is of the reader's clocks, 0 to 23; None is
    the site's hour of reminders. Raises RuleError for an hour that is none and for a row that repeats before its
    date has passed, for it would never end.
    """

    stage: str
    offset_days: int
    audiences: tuple[Audience, ...]
    repeats_daily: bool = False
    what: Subject = Subject.DOSE
    hour: int | None = None

    def __post_init__(self) -> None:
        if self.repeats_daily and self.offset_days < 1:
            raise RuleError("offset_days", "Only a notice after the due date may repeat.", "repeats-too-soon")
        if self.hour is not None and not 0 <= self.hour <= 23:
            raise RuleError("hour", "An hour lies between 0 and 23.", "no-such-hour")


@dataclass(frozen=True)
class PlannedDose:
    """A dose, or another matter of a case (step 0): due on a date until it is on record.

    `latest_on` is the last day of its window; None: it has none.
    """

    step: int
    due_on: date
    given_on: date | None
    latest_on: date | None = None

    @property
    def overdue_from(self) -> date:
        return overdue_from(due_on=self.due_on, latest_on=self.latest_on or self.due_on)


@dataclass(frozen=True)
class WantedNotice:
    """A notice that should exist; `send_on` is a date of the site's own calendar, `hour` as in the plan."""

    stage: str
    step: int
    due_on: date
    send_on: date
    audience: Audience
    hour: int | None = None


# The reminder of the day after a dose was due.
DAY_AFTER = "day-after"
_CLINIC = (Audience.LIAISON, Audience.MEMBER)
_DESK = (Audience.LIAISON, Audience.OFFICER)

# What is late is told to all three, daily, until the dose is on record or the course has ended. A report is told at
# once (safety.notices.case.report); a visit or decision nobody has recorded is chased from the day after on.
# Common practice, no source; the titre after a course of somebody immunocompromised: MMWR 2010;59(RR-2).
DEFAULT_PLAN = (
    PlanRow("day-before", -1, _CLINIC),
    PlanRow("day-of", 0, _CLINIC),
    PlanRow(DAY_AFTER, 1, tuple(Audience)),
    PlanRow("overdue", 2, tuple(Audience), repeats_daily=True),
    PlanRow("visit-late", 1, tuple(Audience), repeats_daily=True, what=Subject.VISIT),
    PlanRow("decision-late", 1, (Audience.LIAISON,), what=Subject.DECISION),
    PlanRow("decision-late", 2, _DESK, repeats_daily=True, what=Subject.DECISION),
    PlanRow("titre-due", 0, _CLINIC, what=Subject.TITRE),
    PlanRow("titre-due", 2, (Audience.LIAISON,), repeats_daily=True, what=Subject.TITRE),
)


def wanted_notices(
    *,
    doses: Iterable[PlannedDose],
    plan: Sequence[PlanRow],
    today: date,
    ended: bool,
    what: Subject = Subject.DOSE,
) -> tuple[WantedNotice, ...]:
    """Every notice that should exist on `today` (the site's date), sent or not, by date of sending.

    A dose that was given, and a course that has ended, want none. Notices up to the due date are wanted as soon as
    the dose is planned; those after it only once their own date has come, for by then the dose may be recorded.
    For one dose and one audience, the newest notice whose date has come replaces the older ones: nobody is told
    "tomorrow" on the day itself; and there is one a day, by the row of the site's hour or else of the earliest.
    """
    if ended:
        return ()
    plan = [row for row in plan if row.what == what]
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
    dated: dict[date, PlanRow] = {}
    for row in sorted(_rows_for(dose, plan), key=_turn):
        send_on = _send_on(row, dose, today)
        if audience in row.audiences and (send_on <= today or row.offset_days <= 0):
            dated.setdefault(send_on, row)
    newest = max((send_on for send_on in dated if send_on <= today), default=date.min)
    return [
        WantedNotice(row.stage, dose.step, dose.due_on, send_on, audience, row.hour)
        for send_on, row in dated.items()
        if send_on >= newest
    ]


def _turn(row: PlanRow) -> tuple[int, int, bool]:
    """Which of two rows on one day comes first."""
    return (-1 if row.hour is None else row.hour, row.offset_days, row.repeats_daily)


def _rows_for(dose: PlannedDose, plan: Sequence[PlanRow]) -> list[PlanRow]:
    """The plan's rows, and inside a window one more: whoever is told daily after it is told once on the day after
    the due date too, whatever rows the plan has for that day. Nothing goes silent because there is time left."""
    if dose.overdue_from <= dose.due_on + timedelta(days=1):
        return list(plan)
    once = [
        replace(row, stage=DAY_AFTER, offset_days=1, repeats_daily=False) for row in plan if row.repeats_daily
    ]
    return [*plan, *once]


def _send_on(row: PlanRow, dose: PlannedDose, today: date) -> date:
    """The row's date; of one that repeats, today's turn once it has begun.

    What calls a dose overdue waits for the end of its window: until then the regimen permits it.
    """
    first = dose.due_on + timedelta(days=row.offset_days)
    if row.repeats_daily or row.offset_days > 1:
        first = max(first, dose.overdue_from)
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
