"""The doses that are due, as rows with a form each, in groups."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest

from safety.forms.course.doses import GivenDoseForm
from safety.models import PlannedDose
from safety.rules.course.dose_due import DoseDue, dose_due
from safety.selectors.case.desk import COMING
from safety.words import State, dose_state
from staff.doors.page import signed_in


@dataclass(frozen=True)
class DueRow:
    """`days` until it is due, or (negative) since. `form` is None where somebody else has to record the dose: it is
    the reader's own."""

    dose: PlannedDose
    state: State
    days: int
    form: GivenDoseForm | None

    @property
    def days_ago(self) -> int:
        return -self.days

    @property
    def key(self) -> str:
        return row_key(self.dose)


@dataclass(frozen=True)
class DueGroups:
    """By the calendar where each dose is given."""

    overdue: list[DueRow]
    today: list[DueRow]
    coming: list[DueRow]

    @property
    def rows(self) -> list[DueRow]:
        return [*self.overdue, *self.today, *self.coming]


# What is in its window is still to be given today.
_GROUPS = {
    DoseDue.OVERDUE: "overdue",
    DoseDue.IN_WINDOW: "today",
    DoseDue.DUE: "today",
    DoseDue.NOT_YET: "coming",
}


def row_key(planned: PlannedDose) -> str:
    """Names the row through every recomputation: planned doses are written anew, courses and numbers stay."""
    return f"c{planned.course_id}-{planned.number}"


def group_due(doses: Iterable[PlannedDose], request: HttpRequest, now: datetime) -> DueGroups:
    groups = DueGroups([], [], [])
    for planned in doses:
        today = planned.course.local_date(now)
        days = (planned.due_on - today).days
        row = DueRow(planned, dose_state(planned, today), days, _form(planned, request, now))
        where = dose_due(due_on=planned.due_on, latest_on=planned.latest_on, today=today)
        if where is not DoseDue.NOT_YET or days <= COMING.days:
            getattr(groups, _GROUPS[where]).append(row)
    return groups


def _form(planned: PlannedDose, request: HttpRequest, now: datetime) -> GivenDoseForm | None:
    if planned.course.person.user_id == signed_in(request).pk:
        return None
    initial = {"given_on": planned.course.local_date(now)}
    return GivenDoseForm(request.POST or None, prefix=row_key(planned), initial=initial)
