"""A course as the page of its case shows it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from safety.models import Course, PlannedDose
from safety.pages.course.course_history import Entry, history_of
from safety.pages.course.drawing import Drawing, draw_course
from safety.selectors.case.cases import (
    every_dose_in,
)
from safety.selectors.course.course_places import Place, place_of
from safety.words import State, dose_state
from staff.models import Dose


@dataclass(frozen=True)
class CourseView:
    """A course as the page shows it. `computing`: the planned dates don't follow from the record yet."""

    course: Course
    computing: bool
    planned: list[tuple[PlannedDose, State]]
    drawing: Drawing | None
    recorded: list[Dose]
    next_due: date | None
    place: Place | None
    history: list[Entry]


def course_view(course: Course, now: datetime, behind: set[int], *, follows: bool) -> CourseView:
    planned, today = list(course.planned_doses.all()), course.local_date(now)
    return CourseView(
        course=course,
        computing=course.pk in behind,
        planned=[(dose, dose_state(dose, today)) for dose in planned],
        drawing=draw_course(planned, today) if planned else None,
        recorded=list(every_dose_in(course)),
        next_due=next((dose.due_on for dose in planned if dose.given_on is None), None),
        place=place_of(course),
        history=history_of(course, follows=follows),
    )
