"""What is looked at before a dose of a course is written down: its day, and what is odd about it by the plan."""

from __future__ import annotations

from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.errors import Invalid
from safety.models import Course
from safety.rules.course.dose_doubts import Doubted, dose_doubts
from safety.selectors.course.schedules import course_basis
from safety.services.case.case_dates import check_since_incident
from safety.services.course.course_facts import given_in


def dose_doubt(course: Course, given_on: date) -> Doubted | None:
    """What is odd about a dose of the course on `given_on` by its plan and the doses that stand."""
    return dose_doubts(given_on=given_on, given=given_in(course), plan=course_basis(course))


def check_dose_day(course: Course, given_on: date, now: datetime) -> None:
    """By the calendar where the course goes on; the record itself is kept by the site's."""
    check_since_incident(course.incident, "given_on", given_on, course.local_date(now))
    if given_on > course.incident.site.local_date(now):
        words = _("At the site it isn't %(day)s yet: record the dose once it is.")
        raise Invalid({"given_on": words % {"day": date_format(given_on, "DATE_FORMAT")}})
