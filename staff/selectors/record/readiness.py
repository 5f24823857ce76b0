"""Who may go out on a date, who may not, and why: the one answer that every page, mail, door and count reads.

From when somebody is clear is said by staff.selectors.record.clear_from.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from django.db.models import QuerySet

from staff.models import Clearance, Person, Site
from staff.rules.record.clearance import Clearance as ClearanceRule
from staff.rules.record.intervals import Intervals, covers, intersect
from staff.rules.record.reasons import Reason
from staff.selectors.record.records import RegimenBook, with_record
from staff.words import BEING_RECOMPUTED, NOT_STORED, reason_words


@dataclass(frozen=True)
class Readiness:
    """One person on one date, as `ClearDates` answers for it."""

    person: Person
    on: date
    clear: bool
    reasons: tuple[Reason, ...]
    words: tuple[str, ...]
    advice: tuple[str, ...]

    @property
    def codes(self) -> list[str]:
        return [reason.code for reason in self.reasons]


@dataclass(frozen=True)
class ClearDates:
    """The dates on which one person is clear: those that the record and the stored clearance both allow.

    `in_force`: stored clearances that a place on a roster may rest on, as the guards judge it: none while the
    person waits to be recomputed. A reader that asked only one of the two would let on whom the other keeps off.
    """

    person: Person
    judged: ClearanceRule
    in_force: tuple[Clearance, ...]
    waiting: bool

    @cached_property
    def intervals(self) -> Intervals:
        return intersect(self.judged.intervals, (row.as_interval() for row in self.in_force))

    def clear_on(self, day: date) -> bool:
        return covers(self.intervals, day)

    def stored_on(self, day: date) -> Clearance | None:
        """The stored clearance in force on `day`, whatever the record says."""
        return next((row for row in self.in_force if covers([row.as_interval()], day)), None)

    def cover_on(self, day: date) -> Clearance | None:
        """The stored clearance that a place on `day` may rest on; None exactly when the person isn't clear then."""
        return self.stored_on(day) if self.clear_on(day) else None

    def on(self, day: date) -> Readiness:
        reasons = self.judged.reasons_on(day)
        return Readiness(
            person=self.person,
            on=day,
            clear=self.clear_on(day),
            reasons=reasons,
            words=tuple(reason_words(reason) for reason in reasons) or self._unstored_words(day),
            advice=tuple(reason_words(reason) for reason in self.judged.advice_on(day)),
        )

    def _unstored_words(self, day: date) -> tuple[str, ...]:
        # The record allows what the stored clearance does not: not clear until they agree again.
        if self.stored_on(day):
            return ()
        return (str(BEING_RECOMPUTED if self.waiting else NOT_STORED),)


def clear_dates(people: QuerySet[Person], sites: Iterable[Site]) -> list[ClearDates]:
    """Everybody of `people` (all of `sites`) with their clear dates, in a constant number of queries."""
    book = RegimenBook.for_sites(sites)
    return [
        _clear_dates(person, book)
        for person in with_record(people.select_related("site__rules", "clearance_pending"))
    ]


def _clear_dates(person: Person, book: RegimenBook) -> ClearDates:
    waiting = hasattr(person, "clearance_pending")
    stored: list[Clearance] = person.current_clearances  # type: ignore[attr-defined]
    return ClearDates(person, book.judge(person), () if waiting else tuple(stored), waiting)


def clear_dates_of(person: Person) -> ClearDates:
    """Those of one person, read anew."""
    return clear_dates(Person.objects.filter(pk=person.pk), [person.site])[0]


def clearance_on(person: Person, on: date) -> Clearance | None:
    """The stored clearance that a place on `on` may rest on; None when this person isn't clear then."""
    return clear_dates_of(person).cover_on(on)


def readiness(people: QuerySet[Person], on: date, sites: Iterable[Site]) -> list[Readiness]:
    """The board of `people` (all of `sites`) on `on`: a constant number of queries whatever their number."""
    return [dates.on(on) for dates in clear_dates(people, sites)]


def readiness_of(person: Person, on: date) -> Readiness:
    return clear_dates_of(person).on(on)
