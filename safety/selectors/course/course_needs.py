"""What a running course needs: the doses that are due, dates, its end."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from safety.models import Course, PlannedDose
from safety.rules.case.answer_doubts import date_disagrees
from safety.rules.case.needs import NeedCode
from safety.rules.course.dose_due import DoseDue, dose_due
from safety.selectors.case.need import Need, day_words
from safety.selectors.case.need_words import sentence


def course_needs(course: Course, now: datetime) -> Iterator[Need]:
    """What a running course needs, by the calendar where it goes on."""
    if course.regimen_id is None:
        words = sentence(NeedCode.UNLISTED, name=course.regimen_name)
        yield Need(NeedCode.UNLISTED, words, course.incident.site.local_date(now), late=False)
    planned = list(course.planned_doses.all())
    missing = [dose for dose in planned if dose.given_on is None]
    if course.planned_recorded is None:
        yield _plain(NeedCode.PLAN, course)
    elif not planned:
        yield _plain(NeedCode.UNDATED, course)
    elif not missing:
        yield _plain(NeedCode.COMPLETE, course)
    else:
        today = course.local_date(now)
        yield from _dates(course, missing[0], today)
        for place, dose in enumerate(missing):
            if place == 0 or dose.due_on <= today:
                yield _dose(course, dose, today)


def _plain(code: NeedCode, course: Course) -> Need:
    return Need(code, sentence(code), None, late=False, course=course.pk)


def _dose(course: Course, dose: PlannedDose, today: date) -> Need:
    where = dose_due(due_on=dose.due_on, latest_on=dose.latest_on, today=today)
    variant = where.value if where is DoseDue.IN_WINDOW else ""
    words = sentence(
        NeedCode.DOSE, variant, number=dose.number, due=day_words(dose.due_on), last=day_words(dose.latest_on)
    )
    return Need(NeedCode.DOSE, words, dose.due_on, where is DoseDue.OVERDUE, course.pk, dose.number)


def _dates(course: Course, following: PlannedDose, today: date) -> Iterator[Need]:
    """The clinic's own next date where the plan says another, until a dose after that visit is given."""
    stated = [visit for visit in course.incident.visits.all() if visit.next_on is not None]
    if not stated:
        return
    visited_on, said = stated[-1].visited_on, stated[-1].next_on
    given = [dose.given_on for dose in course.planned_doses.all() if dose.given_on is not None]
    settled = any(day > visited_on for day in given)
    if said is None or settled or not date_disagrees(said, following.due_on, following.latest_on):
        return
    words = sentence(NeedCode.DATES_DIFFER, said=day_words(said), due=day_words(following.due_on))
    yield Need(NeedCode.DATES_DIFFER, words, today, late=False, course=course.pk)


def dose_asked(dose: PlannedDose, now: datetime) -> Need:
    """The need of one planned dose of a running course, by the calendar where the course goes on."""
    return _dose(dose.course, dose, dose.course.local_date(now))
