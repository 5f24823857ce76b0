"""What changes a course other than a dose: begun by name, new dates, another regimen, another place, taken up again."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.course import NamedCourseForm, NewDatesForm, PlaceForm, RegimenForm, ResumeForm
from safety.letter.facts import letter_facts
from safety.models import Course, Incident
from safety.pages.clinic_side import followed_case, listed_of
from safety.pages.courses import followed_course
from safety.pages.steps import case_step
from safety.selectors.clinics import clinics_of
from safety.selectors.schedules import plan_of
from safety.services.course import POST_EXPOSURE, course_start_named
from safety.services.course_changes import (
    Elsewhere,
    NewRegimen,
    check_new_regimen,
    course_dates_replace,
    course_move,
    course_regimen_change,
    plan_after,
)
from safety.services.course_ending import course_resume
from safety.services.course_facts import Word, given_in, need_clinicians_word
from staff.doors.form import Outcome, Step, attempt, form_page, told
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import User
from staff.selectors.regimens import approved_at


@never_cache
@page(OFFICER, LIAISON)
def named(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    act = partial(course_start_named, actor=user, incident=incident, now=now)
    return form_page(
        request,
        NamedCourseForm(request.POST or None),
        lambda said: act(regimen_name=said["regimen_name"], dates=said["dates"]),
        _named_step(incident),
    )


def _named_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Record a course the table lacks"),
        _("Record the course"),
        _("The course is recorded; the clinic's dates are reminded of like any other."),
        _("Only for a regimen that isn't among those %(authority)s has approved; the officer is shown it.")
        % {"authority": incident.site.authority},
        _("Read the dates back to the clinic before you keep them."),
    )


@never_cache
@page(OFFICER, LIAISON)
def dates(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    act = partial(course_dates_replace, actor=user, course=course, now=now)
    return form_page(
        request,
        NewDatesForm(request.POST or None),
        lambda said: act(dates=said["dates"], word=_word(said)),
        _dates_step(course),
    )


def _dates_step(course: Course) -> Step:
    return case_step(
        course.incident,
        _("New dates from the clinic"),
        _("Replace the dates"),
        _("The clinic's new dates stand; reminders follow within seconds."),
        _("Write down every date still to come; those of doses given stay."),
    )


def _word(said: dict[str, Any]) -> Word:
    return Word(said["said_by"], said["reason"])


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
        regimens=approved_at(course.incident.site, *POST_EXPOSURE).distinct(),
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
    word = need_clinicians_word(_word(said))
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


@never_cache
@page(OFFICER, LIAISON)
def place(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    clinics = clinics_of(course.incident.site)
    act = partial(course_move, actor=user, course=course, now=now)
    return form_page(
        request,
        PlaceForm(request.POST or None, clinics=clinics, initial=_place_of(course)),
        lambda said: act(to=_elsewhere(said), reason=said["reason"]),
        _place_step(course),
    )


def _place_of(course: Course) -> dict[str, Any]:
    where = {"place": course.place, "phone": course.place_phone, "time_zone": course.time_zone}
    return {"clinic": course.clinic_id} | where


def _elsewhere(said: dict[str, Any]) -> Elsewhere:
    return Elsewhere(said["clinic"], said["place"], said["phone"], said["time_zone"])


def _place_step(course: Course) -> Step:
    return case_step(
        course.incident,
        _("The course goes on elsewhere"),
        _("Keep the place"),
        _("The place is kept; reminders follow the calendar there."),
        _(
            "Give the clinic there the letter and the dates of the doses given, and ask it to tell you each dose."
        ),
    )


@never_cache
@page(OFFICER, LIAISON)
def resuming(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    return form_page(
        request,
        ResumeForm(request.POST or None),
        lambda said: course_resume(actor=user, course=course, now=now, **said),
        _resuming_step(course),
    )


def _resuming_step(course: Course) -> Step:
    return case_step(
        course.incident,
        _("Take the course up again"),
        _("Take it up again"),
        _("The course runs again; its doses are reminded of."),
        _("Doses that are late by now are told at once. Ask the clinician how it goes on."),
    )
