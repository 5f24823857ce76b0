"""Another regimen for a course: old and new dates are shown before it is changed."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.course.course import RegimenForm
from safety.letter.facts import letter_facts
from safety.models import Course
from safety.pages.case.steps import case_step
from safety.pages.course.course_changes import word_of
from safety.pages.course.course_start import listed_of
from safety.pages.course.courses import followed_course
from safety.selectors.course.course_regimens import course_regimens
from safety.selectors.course.schedules import plan_of
from safety.services.course.course_changes import (
    NewRegimen,
    check_new_regimen,
    course_regimen_change,
    plan_after,
)
from safety.services.course.course_facts import Word, given_in, need_clinicians_word
from staff.doors.form import Outcome, Step, attempt, told
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import User


@dataclass(frozen=True)
class Row:
    """One dose before and after the change; a date is None where one of them lacks the dose."""

    number: int
    before: date | None
    after: date | None
    given_on: date | None


@never_cache
@page(OFFICER, LIAISON)
def regimen(request: HttpRequest, pk: int) -> HttpResponse:
    """Old and new dates are shown first; only what was shown is kept."""
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    form, step = _regimen_form(request, course, now), _regimen_step(course)
    checked = attempt(request, form, lambda said: _asked(course, said, now))
    asked, outcome = checked.made, Outcome[None](checked.status)
    if asked is not None:
        if asked.seen:
            outcome = attempt(request, form, lambda _said: _change(user, course, asked, now))
        form.data = _marked(request, asked)
    if outcome.kept:
        return told(request, outcome, step)
    context = {"form": form, "step": step, "site": step.site, "course": course}
    context["rows"] = asked.rows if asked else []
    return render(request, "safety/course_regimen.html", context, status=outcome.status)


def _marked(request: HttpRequest, asked: Asked) -> QueryDict:
    """What was posted, with the mark of what is shown now."""
    data = request.POST.copy()
    data["seen"] = asked.mark
    return data


def _regimen_form(request: HttpRequest, course: Course, now: datetime) -> RegimenForm:
    return RegimenForm(
        request.POST or None,
        regimens=course_regimens(course.incident),
        listed=listed_of(letter_facts(course.incident, None, now)),
    )


def _regimen_step(course: Course) -> Step:
    return case_step(
        course.incident,
        _("Change the regimen"),
        _("Show the dates"),
        _("The regimen is changed; the dates follow within seconds."),
        _("Only on the clinician's word. Doses given stay counted, and nothing starts again."),
        _("The course runs on: %(name)s.") % {"name": course.name},
    )


@dataclass(frozen=True)
class Asked:
    """A change that may be made: what it would do, the mark of that, and whether it was shown."""

    new: NewRegimen
    word: Word
    confirmed: bool
    rows: list[Row]
    mark: str
    seen: bool


def _asked(course: Course, said: dict[str, Any], now: datetime) -> Asked:
    word = need_clinicians_word(word_of(said))
    new = NewRegimen(said["regimen"], said["regimen_name"], tuple(said["dates"]))
    new = check_new_regimen(course, new, now, confirmed=said["confirmed"])
    rows = _preview(course, new)
    mark = _mark(rows, new)
    return Asked(new, word, said["confirmed"], rows, mark, said["seen"] == mark)


def _change(user: User, course: Course, asked: Asked, now: datetime) -> None:
    course_regimen_change(
        actor=user, course=course, new=asked.new, word=asked.word, confirmed=asked.confirmed, now=now
    )


def _preview(course: Course, new: NewRegimen) -> list[Row]:
    before = {step.number: step for step in plan_of(course)(given_in(course)).steps}
    after = {step.number: step for step in plan_after(course, new)[1].steps}
    return [
        Row(
            number,
            before[number].due_on if number in before else None,
            after[number].due_on if number in after else None,
            after[number].given_on if number in after else None,
        )
        for number in sorted(before.keys() | after.keys())
    ]


def _mark(rows: list[Row], new: NewRegimen) -> str:
    """The same for the same preview."""
    named = f"{new.regimen.pk if new.regimen else new.name}"
    return hashlib.sha256(f"{named};{rows}".encode()).hexdigest()[:32]
