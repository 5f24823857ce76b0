"""What changes a course other than a dose: begun by name, new dates, another regimen, another place, taken up again."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.errors import Refused
from safety.forms.course import NamedCourseForm, NewDatesForm, PlaceForm, RegimenForm, ResumeForm
from safety.letter.facts import letter_facts
from safety.models import Course
from safety.pages.clinic_side import followed_case, listed_of, step_of
from safety.pages.courses import course_step, followed_course
from safety.pages.steps import run_step, show_refusal
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
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.selectors.regimens import approved_at


@never_cache
@page(OFFICER, LIAISON)
def named(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    step = step_of(
        incident,
        _("Record a course the table lacks"),
        _("Record the course"),
        _("The course is recorded; the clinic's dates are reminded of like any other."),
        _("Only for a regimen that isn't among those %(authority)s has approved; the officer is shown it.")
        % {"authority": incident.site.authority},
        _("Read the dates back to the clinic before you keep them."),
    )
    return run_step(
        request,
        form=NamedCourseForm(request.POST or None),
        act=lambda said: course_start_named(
            actor=user,
            incident=incident,
            regimen_name=said["regimen_name"],
            dates=said["dates"],
            now=now,
        ),
        step=step,
    )


@never_cache
@page(OFFICER, LIAISON)
def dates(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    step = course_step(
        course,
        _("New dates from the clinic"),
        _("Replace the dates"),
        _("The clinic's new dates stand; reminders follow within seconds."),
        _("Write down every date still to come; those of doses given stay."),
    )
    return run_step(
        request,
        form=NewDatesForm(request.POST or None),
        act=lambda said: course_dates_replace(
            actor=user, course=course, dates=said["dates"], word=_word(said), now=now
        ),
        step=step,
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
    form = RegimenForm(
        request.POST or None,
        regimens=approved_at(course.incident.site, *POST_EXPOSURE).distinct(),
        listed=listed_of(letter_facts(course.incident, None, now)),
    )
    step = course_step(
        course,
        _("Change the regimen"),
        _("Show the dates"),
        _("The regimen is changed; the dates follow within seconds."),
        _("Only on the clinician's word. Doses given stay counted, and nothing starts again."),
        _("The course runs on: %(name)s.") % {"name": course.name},
    )
    rows: list[Row] = []
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            said = form.cleaned_data
            new = NewRegimen(said["regimen"], said["regimen_name"], tuple(said["dates"]))
            try:
                word = need_clinicians_word(_word(said))
                new = check_new_regimen(course, new, now, confirmed=said["confirmed"])
                rows, status = _preview(course, new), 200
                if said["seen"] == _mark(rows, new):
                    course_regimen_change(
                        actor=user, course=course, new=new, word=word, confirmed=said["confirmed"], now=now
                    )
                    messages.success(request, step.done)
                    return redirect(step.back)
                form.data = request.POST.copy()
                form.data["seen"] = _mark(rows, new)
            except Refused as refusal:
                status = show_refusal(form, refusal)
    context = {"form": form, "step": step, "site": step.site, "rows": rows, "course": course}
    return render(request, "safety/course_regimen.html", context, status=status)


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
    step = course_step(
        course,
        _("The course goes on elsewhere"),
        _("Keep the place"),
        _("The place is kept; reminders follow the calendar there."),
        _(
            "Give the clinic there the letter and the dates of the doses given, and ask it to tell you each dose."
        ),
    )
    initial = {
        "clinic": course.clinic_id,
        "place": course.place,
        "phone": course.place_phone,
        "time_zone": course.time_zone,
    }
    return run_step(
        request,
        form=PlaceForm(request.POST or None, clinics=clinics_of(course.incident.site), initial=initial),
        act=lambda said: course_move(
            actor=user,
            course=course,
            to=Elsewhere(said["clinic"], said["place"], said["phone"], said["time_zone"]),
            reason=said["reason"],
            now=now,
        ),
        step=step,
    )


@never_cache
@page(OFFICER, LIAISON)
def resuming(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    step = course_step(
        course,
        _("Take the course up again"),
        _("Take it up again"),
        _("The course runs again; its doses are reminded of."),
        _("Doses that are late by now are told at once. Ask the clinician how it goes on."),
    )
    return run_step(
        request,
        form=ResumeForm(request.POST or None),
        act=lambda said: course_resume(actor=user, course=course, now=now, **said),
        step=step,
    )
