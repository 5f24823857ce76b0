"""One dose of a course, its voiding, and the end of a course."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.case import ReasonForm
from safety.forms.course.course import CourseEndForm, DoseForm
from safety.models import Course, EndKind, PlannedDose
from safety.pages.case.steps import case_step
from safety.selectors.case.cases import (
    courses_followed_by,
    every_dose_in,
)
from safety.selectors.course.course_places import place_of
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end, is_complete
from safety.services.course.course_facts import given_in
from safety.services.course.dose_voids import course_dose_void
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


def followed_course(request: HttpRequest, pk: int) -> Course:
    return get_object_or_404(courses_followed_by(signed_in(request)), pk=pk)


@never_cache
@page(OFFICER, LIAISON)
def dose(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    where = place_of(course)
    initial = {"given_on": course.local_date(now), "place": where.name if where else ""}
    return form_page(
        request,
        DoseForm(request.POST or None, initial=initial),
        lambda said: course_dose_record(actor=user, course=course, now=now, **said),
        _dose_step(course),
    )


def _dose_step(course: Course) -> Step:
    planned = course.planned_doses.filter(given_on__isnull=True).first()
    return case_step(
        course.incident,
        _dose_title(course, planned),
        _("Record the dose"),
        _("The dose is recorded; the dates that follow are computed within seconds."),
        _("Regimen: %(name)s. Record what was given, on the date it was given.") % {"name": course.name},
    )


def _dose_title(course: Course, planned: PlannedDose | None) -> str:
    """Which dose of whom, so that nobody records another one."""
    about: dict[str, object] = {"name": course.person, "reference": course.incident.reference}
    if planned is None:
        return _("Record a dose for %(name)s, case %(reference)s") % about
    about |= {"number": planned.number, "day": date_format(planned.due_on, "DATE_FORMAT")}
    return _("Record dose %(number)d for %(name)s, due on %(day)s, case %(reference)s") % about


@never_cache
@page(OFFICER, LIAISON)
def dose_voiding(request: HttpRequest, pk: int, dose_id: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    wrong = get_object_or_404(every_dose_in(course), pk=dose_id)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: course_dose_void(actor=user, course=course, dose=wrong, now=now, **said),
        _dose_voiding_step(course),
    )


def _dose_voiding_step(course: Course) -> Step:
    return case_step(
        course.incident,
        _("Void this dose"),
        _("Void it"),
        _("The dose is voided; the dates are computed again within seconds."),
        _("The dose stays readable with your reason and no longer counts."),
    )


@never_cache
@page(OFFICER, LIAISON)
def ending(request: HttpRequest, pk: int) -> HttpResponse:
    user, course, now = signed_in(request), followed_course(request, pk), timezone.now()
    return form_page(
        request,
        CourseEndForm(request.POST or None, initial=_ends(course, now)),
        lambda said: course_end(actor=user, course=course, now=now, **said),
        _ending_step(course),
    )


def _ends(course: Course, now: datetime) -> dict[str, object]:
    """What is filled in before anybody types: today, and completed where every dose is on record."""
    initial: dict[str, object] = {"ended_on": course.local_date(now)}
    if is_complete(course, given_in(course)):
        initial |= {"kind": EndKind.COMPLETED, "reason": _("All doses given.")}
    return initial


def _ending_step(course: Course) -> Step:
    return case_step(
        course.incident,
        _("End the course"),
        _("End it"),
        _("The course has ended; no more reminders go out for it."),
        _("A course stops early only on a clinician's word. Reminders for it stop too."),
    )
