"""What changes a running course other than a dose: another regimen, new dates, another place."""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Clinic, Course, CourseFact
from safety.selectors.course.schedules import CourseBasis, course_basis, dates_of
from safety.services.clinic.clinics import need_own_clinic
from safety.services.course.course import dates_write
from safety.services.course.course_checks import (
    need_approved,
    need_dates,
    need_name,
    need_word,
    regimen_doubt,
)
from safety.services.course.course_facts import (
    Word,
    given_in,
    lock_running,
    need_clinicians_word,
    tell,
    word_within,
)
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Regimen, User
from staff.rules.regimen.schedule import Schedule
from staff.services.record.clearance import need_reason


@dataclass(frozen=True)
class NewRegimen:
    """An approved regimen, or one by name with the dates the clinic wrote for the doses that remain."""

    regimen: Regimen | None = None
    name: str = ""
    dates: tuple[date, ...] = ()


def basis_after(course: Course, new: NewRegimen) -> tuple[CourseBasis, Schedule]:
    """How the course would go on; doses that counted stay counted. For a preview, and for the change itself."""
    basis, given = course_basis(course), given_in(course)
    schedule = basis(given)
    kept = tuple(step.given_on for step in schedule.steps if step.given_on is not None)
    regimen = new.regimen.as_rule() if new.regimen else None
    dates = () if regimen else (*kept, *new.dates)
    changed = replace(basis, regimen=regimen, dates=dates, kept=kept, left=schedule.not_counted)
    return changed, changed(given)


def check_new_regimen(course: Course, new: NewRegimen, now: datetime, *, confirmed: bool) -> NewRegimen:
    """Raises `Invalid` for what can't be, and for a regimen of somebody else unless it is confirmed."""
    if (new.regimen is None) == (not new.name.strip()):
        raise Invalid({"regimen": _("Choose an approved regimen, or write down one by name; not both.")})
    if new.regimen is None:
        days = need_dates(course.incident, new.dates)
        given = given_in(course)
        if given and days[0] <= given[-1]:
            words = _("Write down only the dates still to come: they must lie after the last dose given.")
            raise Invalid({"dates": words})
        return NewRegimen(name=need_name(new.name), dates=tuple(days))
    if new.dates:
        raise Invalid({"dates": _("An approved regimen gives its own dates; leave these empty.")})
    if course.regimen_id == new.regimen.pk:
        raise Invalid({"regimen": _("The course runs on this regimen already.")})
    need_approved(course.incident, new.regimen)
    need_word(regimen_doubt(course.incident, new.regimen, now), "regimen", confirmed=confirmed)
    return NewRegimen(regimen=new.regimen)


@retried
def course_regimen_change(
    *,
    actor: User,
    course: Course,
    new: NewRegimen,
    word: Word,
    now: datetime,
    confirmed: bool = False,
) -> None:
    """Go on by another regimen on the clinician's word; doses that counted stay counted and nothing starts again."""
    word = need_clinicians_word(word)
    with transaction.atomic():
        locked = lock_running(course)
        new = check_new_regimen(locked, new, now, confirmed=confirmed)
        basis, _schedule = basis_after(locked, new)
        before = locked.name
        locked.dates.filter(replaced_at__isnull=True).update(replaced_at=now)
        dates_write(locked, basis.dates, first=1, now=now)
        locked.regimen, locked.regimen_name = new.regimen, new.name
        locked.save(update_fields=["regimen", "regimen_name"])
        tell(
            actor,
            locked,
            CourseFact.Kind.REGIMEN,
            word,
            now,
            before=before,
            after=locked.name,
            doses=[(day.isoformat(), "") for day in basis.kept]
            + [(day.isoformat(), why) for day, why in basis.left],
        )


@retried
def course_dates_replace(
    *, actor: User, course: Course, dates: Sequence[date], word: Word, now: datetime
) -> None:
    """Put the clinic's new dates in place of those of a course by name that are still to come."""
    word = need_clinicians_word(word)
    with transaction.atomic():
        locked = lock_running(course)
        if locked.regimen_id is not None:
            message = _("The dates of this course follow from its regimen; change the regimen instead.")
            raise Conflict(message, code="course-by-regimen")
        days, given = need_dates(locked.incident, dates), given_in(locked)
        if given and days[0] <= given[-1]:
            words = _("Write down only the dates still to come: they must lie after the last dose given.")
            raise Invalid({"dates": words})
        before = dates_of(locked)
        first = len([step for step in course_basis(locked)(given).steps if step.given_on is not None]) + 1
        locked.dates.filter(replaced_at__isnull=True, number__gte=first).update(replaced_at=now)
        dates_write(locked, days, first=first, now=now)
        tell(
            actor,
            locked,
            CourseFact.Kind.DATES,
            word,
            now,
            before=_in_words(before[first - 1 :]),
            after=_in_words(days),
        )


def _in_words(days: Sequence[date]) -> str:
    return ", ".join(date_format(day, "DATE_FORMAT") for day in days)


@dataclass(frozen=True)
class Elsewhere:
    """Where a course goes on: a clinic of the list or a place in words, and the time zone there (empty: the site's)."""

    clinic: Clinic | None = None
    place: str = ""
    phone: str = ""
    time_zone: str = ""

    def __str__(self) -> str:
        named = (str(self.clinic) if self.clinic else "", self.place, self.phone, self.time_zone)
        return ", ".join(part for part in named if part)


@retried
def course_move(*, actor: User, course: Course, to: Elsewhere, reason: str, now: datetime) -> None:
    """The course goes on at another clinic, or elsewhere; reminders follow the calendar there."""
    word = word_within(Word("", need_reason(reason)))
    _check_place(course, to)
    place, phone = within(to.place, Course, "place"), within(to.phone, Course, "place_phone", field="phone")
    with transaction.atomic():
        locked = lock_running(course)
        before = Elsewhere(locked.clinic, locked.place, locked.place_phone, locked.time_zone)
        locked.clinic, locked.place, locked.place_phone = to.clinic, place, phone
        locked.time_zone = to.time_zone
        locked.save(update_fields=["clinic", "place", "place_phone", "time_zone"])
        tell(actor, locked, CourseFact.Kind.PLACE, word, now, before=str(before), after=str(to))


def _check_place(course: Course, to: Elsewhere) -> None:
    if to.clinic is not None:
        need_own_clinic(course.incident, to.clinic)
        if to.place or to.phone:
            raise Invalid({"place": _("Choose a clinic of the list or write down a place; not both.")})
    elif not to.place.strip():
        raise Invalid({"place": _("Choose a clinic of the list, or write down where the course goes on.")})
    elif not to.phone.strip():
        raise Invalid({"phone": _("Write down a telephone number there, so that somebody can ask.")})
    if to.time_zone and to.time_zone not in zoneinfo.available_timezones():
        raise Invalid({"time_zone": _("Choose a time zone of the list.")})
