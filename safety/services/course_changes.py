"""What changes a running course other than a dose: another regimen, new dates, another place, its end, its resumption.

Each change adds a `CourseFact` in the same transaction; the planner sees by their count that the plan is behind.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Clinic, Course, CourseFact, EndKind
from safety.selectors.cases import doses_of
from safety.selectors.schedules import Plan, dates_of, plan_of
from safety.services.case_dates import check_since_incident
from safety.services.closing import hold_open
from safety.services.course import (
    dates_write,
    hold_course,
    need_approved,
    need_dates,
    need_name,
    need_own_clinic,
    need_word,
    regimen_doubt,
)
from staff.bell import ring
from staff.models import Regimen, User
from staff.rules.schedule import Schedule
from staff.services.audit import audit_write
from staff.services.clearance import need_reason
from staff.services.transactions import retried


@dataclass(frozen=True)
class Word:
    """Who of the clinic said so, and why."""

    said_by: str
    reason: str


def need_clinicians_word(word: Word) -> Word:
    """Raises `Invalid` unless both are there: a course changes and stops on the clinician's word only."""
    missing = {
        "said_by": "" if word.said_by.strip() else _("Write down which clinician said so."),
        "reason": "" if word.reason.strip() else _("Write down the clinician's reason."),
    }
    if any(missing.values()):
        raise Invalid({name: words for name, words in missing.items() if words})
    return Word(word.said_by.strip()[:120], word.reason.strip()[:300])


@dataclass(frozen=True)
class NewRegimen:
    """An approved regimen, or one by name with the dates the clinic wrote for the doses that remain."""

    regimen: Regimen | None = None
    name: str = ""
    dates: tuple[date, ...] = ()


def given_in(course: Course) -> list[date]:
    """The dates of the doses that stand, in order."""
    return list(doses_of(course).filter(voided_at__isnull=True).values_list("given_on", flat=True))


def plan_after(course: Course, new: NewRegimen) -> tuple[Plan, Schedule]:
    """How the course would go on; doses that counted stay counted. For a preview, and for the change itself."""
    plan, given = plan_of(course), given_in(course)
    schedule = plan(given)
    kept = tuple(step.given_on for step in schedule.steps if step.given_on is not None)
    regimen = new.regimen.as_rule() if new.regimen else None
    dates = () if regimen else (*kept, *new.dates)
    changed = replace(plan, regimen=regimen, dates=dates, kept=kept, left=schedule.not_counted)
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
        locked = _hold_running(course)
        new = check_new_regimen(locked, new, now, confirmed=confirmed)
        plan, _schedule = plan_after(locked, new)
        before = locked.name
        locked.dates.filter(replaced_at__isnull=True).update(replaced_at=now)
        dates_write(locked, plan.dates, first=1, now=now)
        locked.regimen, locked.regimen_name = new.regimen, new.name
        locked.save(update_fields=["regimen", "regimen_name"])
        _tell(
            actor,
            locked,
            CourseFact.Kind.REGIMEN,
            word,
            now,
            before=before,
            after=locked.name,
            doses=[(day.isoformat(), "") for day in plan.kept]
            + [(day.isoformat(), why) for day, why in plan.left],
        )


@retried
def course_dates_replace(
    *, actor: User, course: Course, dates: Sequence[date], word: Word, now: datetime
) -> None:
    """Put the clinic's new dates in place of those of a course by name that are still to come."""
    word = need_clinicians_word(word)
    with transaction.atomic():
        locked = _hold_running(course)
        if locked.regimen_id is not None:
            message = _("The dates of this course follow from its regimen; change the regimen instead.")
            raise Conflict(message, code="course-by-regimen")
        days, given = need_dates(locked.incident, dates), given_in(locked)
        if given and days[0] <= given[-1]:
            words = _("Write down only the dates still to come: they must lie after the last dose given.")
            raise Invalid({"dates": words})
        before = dates_of(locked)
        first = len([step for step in plan_of(locked)(given).steps if step.given_on is not None]) + 1
        locked.dates.filter(replaced_at__isnull=True, number__gte=first).update(replaced_at=now)
        dates_write(locked, days, first=first, now=now)
        _tell(
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
    reason = need_reason(reason)
    _check_place(course, to)
    with transaction.atomic():
        locked = _hold_running(course)
        before = Elsewhere(locked.clinic, locked.place, locked.place_phone, locked.time_zone)
        locked.clinic, locked.place, locked.place_phone = to.clinic, to.place[:160], to.phone[:40]
        locked.time_zone = to.time_zone
        locked.save(update_fields=["clinic", "place", "place_phone", "time_zone"])
        word = Word("", reason[:300])
        _tell(actor, locked, CourseFact.Kind.PLACE, word, now, before=str(before), after=str(to))


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


@retried
def course_end(
    *,
    actor: User,
    course: Course,
    ended_on: date,
    kind: str,
    reason: str,
    now: datetime,
    said_by: str = "",
) -> None:
    """End a course as `kind` (EndKind) says; its reminders stop with it.

    Complete: every dose of the series is given. Stopped: with the clinician's name and reason. Handed over: `said_by`
    is to whom. In error: no dose of it stands. Raises `Invalid` naming what is missing, `Conflict` when it has ended.
    """
    if kind not in EndKind.values:
        raise Invalid({"kind": _("Choose how the course ended.")})
    word = _ending_word(kind, Word(said_by, reason))
    with transaction.atomic():
        locked = _hold_running(course)
        check_since_incident(locked.incident, "ended_on", ended_on, locked.local_date(now))
        _check_end(locked, kind)
        locked.ended_on, locked.ended_by = ended_on, actor
        locked.end_kind, locked.end_said_by, locked.end_reason = kind, word.said_by, word.reason
        locked.save(update_fields=["ended_on", "ended_by", "end_kind", "end_said_by", "end_reason"])
        after = str(EndKind(kind).label)
        _tell(actor, locked, CourseFact.Kind.ENDED, word, now, after=after)


def _ending_word(kind: str, word: Word) -> Word:
    if kind == EndKind.STOPPED:
        return need_clinicians_word(word)
    reason = need_reason(word.reason)
    if kind == EndKind.TRANSFERRED and not word.said_by.strip():
        raise Invalid(
            {"said_by": _("Write down to whom the course was handed over, with a telephone number.")}
        )
    return Word(word.said_by.strip()[:120], reason[:300])


def _check_end(course: Course, kind: str) -> None:
    given = given_in(course)
    if kind == EndKind.ERROR and given:
        words = _("Doses of this course stand on the record: void them first, or choose how it really ended.")
        raise Invalid({"kind": words})
    if kind == EndKind.COMPLETED and not is_complete(course, given):
        words = _(
            "Not every dose of it is recorded: record the rest, or say that the clinician stopped it or that it was "
            "handed over."
        )
        raise Invalid({"kind": words})


def is_complete(course: Course, given: Sequence[date]) -> bool:
    """Whether every dose that makes the series complete is given."""
    plan = plan_of(course)
    steps = plan(given).steps
    needed = len(plan.regimen.primary_steps) if plan.regimen else len(steps)
    return all(step.given_on is not None for step in steps[:needed])


@retried
def course_resume(*, actor: User, course: Course, reason: str, now: datetime, said_by: str = "") -> None:
    """Take an ended course up again: its doses are planned and reminded of as before."""
    reason = need_reason(reason)[:300]
    try:
        with transaction.atomic():
            hold_open(course.incident)
            locked = hold_course(course)
            if locked.ended_on is None:
                raise Conflict(_("This course is running."), code="course-runs")
            before = str(EndKind(locked.end_kind).label) if locked.end_kind else locked.end_reason
            locked.ended_on, locked.ended_by = None, None
            locked.end_kind, locked.end_said_by, locked.end_reason = "", "", ""
            locked.save(update_fields=["ended_on", "ended_by", "end_kind", "end_said_by", "end_reason"])
            word = Word(said_by.strip()[:120], reason)
            _tell(actor, locked, CourseFact.Kind.RESUMED, word, now, before=before)
    except IntegrityError as error:
        message = _("Another course runs for this case; end that one first.")
        raise Conflict(message, code="course-running") from error


def _hold_running(course: Course) -> Course:
    locked = hold_course(course)
    if locked.ended_on is not None:
        raise Conflict(_("This course has ended already."), code="course-ended")
    return locked


def _tell(
    actor: User,
    course: Course,
    kind: CourseFact.Kind,
    word: Word,
    now: datetime,
    *,
    before: str = "",
    after: str = "",
    doses: Sequence[tuple[str, str]] = (),
) -> None:
    """The fact, its place in the audit trail and the bell for the planner."""
    CourseFact.objects.create(
        course=course,
        kind=kind,
        at=now,
        by=actor,
        said_by=word.said_by,
        reason=word.reason,
        before=before[:300],
        after=after[:300],
        doses=[list(pair) for pair in doses],
    )
    audit_write(
        actor=actor,
        action=f"course.{kind.value}",
        now=now,
        person=course.person,
        target=course.incident.reference,
        reason=word.reason,
        said_by=word.said_by,
        before=before,
        after=after,
    )
    ring("safety.plan_course", course.pk)
