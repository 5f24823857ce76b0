"""What another regimen would do to the dates of a course, and the mark by which it is known to have been seen."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from safety.models import Course
from safety.pages.course.course_changes import word_of
from safety.selectors.course.schedules import course_basis
from safety.services.course.course_changes import (
    NewRegimen,
    basis_after,
    check_new_regimen,
)
from safety.services.course.course_facts import Word, given_in, need_clinicians_word


@dataclass(frozen=True)
class Row:
    """One dose before and after the change; a date is None where one of them lacks the dose."""

    number: int
    before: date | None
    after: date | None
    given_on: date | None


@dataclass(frozen=True)
class Asked:
    """A change that may be made: what it would do, the mark of that, and whether it was shown."""

    new: NewRegimen
    word: Word
    confirmed: bool
    rows: list[Row]
    mark: str
    seen: bool


def change_asked(course: Course, said: dict[str, Any], now: datetime) -> Asked:
    word = need_clinicians_word(word_of(said))
    new = NewRegimen(said["regimen"], said["regimen_name"], tuple(said["dates"]))
    new = check_new_regimen(course, new, now, confirmed=said["confirmed"])
    rows = _preview(course, new)
    mark = _mark(rows, new)
    return Asked(new, word, said["confirmed"], rows, mark, said["seen"] == mark)


def _preview(course: Course, new: NewRegimen) -> list[Row]:
    before = {step.number: step for step in course_basis(course)(given_in(course)).steps}
    after = {step.number: step for step in basis_after(course, new)[1].steps}
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
