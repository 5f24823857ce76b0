"""Titres the clinician may want after a course: asked for until one is on record or the case is closed."""

from __future__ import annotations

from collections.abc import Iterator

from safety.models import Course, Incident
from safety.rules.case.needs import Asked, NeedCode
from safety.rules.course.course_titre import TitreWindow, titre_window
from safety.rules.course.dose_due import overdue_from


def titre_missing(incident: Incident) -> TitreWindow | None:
    """The window after the newest finished course of somebody immunocompromised in which no blood was taken yet.

    A titre of before the window says nothing about the course; a late one settles it.
    """
    if not incident.person.immunocompromised:
        return None
    windows = [window for course in incident.courses.all() if (window := _after(course))]
    if not windows:
        return None
    newest = max(windows, key=lambda window: window.first_on)
    taken = (titre.taken_on for titre in incident.person.titres.all())
    return None if any(day >= newest.first_on for day in taken) else newest


def _after(course: Course) -> TitreWindow | None:
    """None while a dose of the course isn't given."""
    given = [dose.given_on for dose in course.planned_doses.all()]
    dates = [day for day in given if day is not None]
    return titre_window(max(dates)) if dates and len(dates) == len(given) else None


def titre_asked(incident: Incident) -> Iterator[Asked]:
    """Blood to be taken after the course of somebody immunocompromised."""
    window = titre_missing(incident)
    if window is not None:
        yield Asked(
            NeedCode.TITRE, window.first_on, overdue_from(due_on=window.first_on, latest_on=window.last_on)
        )
