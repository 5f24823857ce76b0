"""Where a course goes on, and whom to ring there."""

from __future__ import annotations

from dataclasses import dataclass

from safety.models import Course


@dataclass(frozen=True)
class Place:
    """A name, and a telephone where there is one."""

    name: str
    phone: str


def place_of(course: Course) -> Place | None:
    """Where its next dose is given: the place it was moved to, or else the clinic of the last visit."""
    if course.clinic is not None:
        return Place(course.clinic.name, course.clinic.phone)
    if course.place:
        return Place(course.place, course.place_phone)
    visits = list(course.incident.visits.all())
    return Place(visits[-1].clinic.name, visits[-1].clinic.phone) if visits else None
