"""One need of a case, as every reader of it sees it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format

from safety.rules.case.needs import NEEDS, Bar, NeedCode, NeedRow
from safety.rules.notices.follow_up import Audience


@dataclass(frozen=True)
class Need:
    """One thing a case needs: a code, a sentence, the date it is due, and whether that has passed.

    `course` is the key of the course it is done in and `number` the dose, where it is about one.
    """

    code: NeedCode
    words: str
    due_on: date | None
    late: bool
    course: int | None = None
    number: int | None = None

    @property
    def row(self) -> NeedRow:
        return NEEDS[self.code]

    @property
    def for_whom(self) -> frozenset[Audience]:
        return self.row.for_whom

    @property
    def bars(self) -> Bar | None:
        return self.row.bars


def day_words(day: date) -> str:
    return date_format(day, "DATE_FORMAT")
