"""What changes a course other than a dose: begun by name, new dates, another place, taken up again."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.course.course import NamedCourseForm, NewDatesForm, PlaceForm, ResumeForm
from safety.models import Course, Incident
from safety.pages.case.steps import case_step, followed_case
from safety.pages.course.courses import followed_course
from safety.selectors.clinic.clinics import clinics_of
from safety.services.course.course import course_start_named
from safety.services.course.course_changes import (
    Elsewhere,
    course_dates_replace,
    course_move,
)
from safety.services.course.course_ending import course_resume
from safety.services.course.course_facts import Word
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


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
        lambda said: act(dates=said["dates"], word=word_of(said)),
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


def word_of(said: dict[str, Any]) -> Word:
    return Word(said["said_by"], said["reason"])


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
