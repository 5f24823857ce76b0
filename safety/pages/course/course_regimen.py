"""Another regimen for a course: old and new dates are shown before it is changed."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.course.course import RegimenForm
from safety.letter.facts import letter_facts
from safety.models import Course
from safety.pages.case.steps import case_step
from safety.pages.course.course_start import listed_of
from safety.pages.course.courses import followed_course
from safety.pages.course.regimen_preview import Asked, change_asked
from safety.selectors.course.course_regimens import course_regimens
from safety.services.course.course_changes import (
    course_regimen_change,
)
from staff.doors.form import Outcome, Step, attempt, told
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import User


@never_cache
@page(OFFICER, LIAISON)
def regimen(request: HttpRequest, pk: int) -> HttpResponse:
    """Old and new dates are shown first; only what was shown is kept."""
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    form, step = _regimen_form(request, course, now), _regimen_step(course)
    checked = attempt(request, form, lambda said: change_asked(course, said, now))
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


def _change(user: User, course: Course, asked: Asked, now: datetime) -> None:
    course_regimen_change(
        actor=user, course=course, new=asked.new, word=asked.word, confirmed=asked.confirmed, now=now
    )
