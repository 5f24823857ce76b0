"""Several doses of follow-up courses recorded in one go: all of them or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Refused
from safety.models import Course, PlannedDose
from safety.selectors.case.cases import courses_behind
from safety.selectors.course.course_places import place_of
from safety.services.course.course_doses import course_dose_record
from staff.ground.transactions import retried
from staff.models import Dose, User


@dataclass(frozen=True)
class GivenDose:
    """One planned dose that was given. `key` names the row it came from; `number` is the dose of the plan."""

    key: str
    course: Course
    number: int
    given_on: date
    batch: str = ""
    confirmed: bool = False


class SomeRefused(Conflict):
    """Some rows can't be taken, so none was; `rows` has the refusal of each by its key."""

    code = "some-refused"

    def __init__(self, rows: Mapping[str, Refused]) -> None:
        super().__init__(_("Nothing was recorded yet: look at the marked rows."))
        self.rows = dict(rows)


@retried
def doses_record_together(*, actor: User, given: Iterable[GivenDose], now: datetime) -> list[Dose]:
    """Record each dose by its date, where its course goes on. Raises SomeRefused, and then nothing is recorded.

    A dose of the plan that somebody recorded since the list was shown is refused, not counted as the next one.
    """
    rows = sorted(given, key=lambda row: (row.given_on, row.number))
    recorded: list[Dose] = []
    refused: dict[str, Refused] = {}
    with transaction.atomic():
        _lock(rows)
        for row in rows:
            try:
                _check_still_open(row)
            except Refused as refusal:
                refused[row.key] = refusal
        for row in rows:
            if row.key in refused:
                continue
            try:
                recorded.append(_record(actor, row, now))
            except Refused as refusal:
                refused[row.key] = refusal
        if refused:
            raise SomeRefused(refused)
    return recorded


def _lock(rows: Iterable[GivenDose]) -> None:
    courses = sorted({row.course.pk for row in rows})
    list(Course.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=courses).order_by("pk"))


def _check_still_open(row: GivenDose) -> None:
    if courses_behind().filter(pk=row.course.pk).exists():
        raise Conflict(
            _("The dates of this course are being computed; look again in a minute."), code="being-computed"
        )
    planned = PlannedDose.objects.filter(course=row.course, number=row.number).first()
    if planned is None or planned.given_on is not None:
        raise Conflict(_("This dose was recorded meanwhile; look at the case."), code="dose-on-record")


def _record(actor: User, row: GivenDose, now: datetime) -> Dose:
    place = place_of(row.course)
    return course_dose_record(
        actor=actor,
        course=row.course,
        given_on=row.given_on,
        now=now,
        batch=row.batch,
        place=place.name if place else "",
        confirmed=row.confirmed,
    )
