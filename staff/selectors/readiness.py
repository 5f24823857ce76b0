"""Who may go out on a date, who may not, and why; from when is said by staff.selectors.clear_from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, QuerySet

from staff.models import Clearance, ClearancePending, Person, Site
from staff.rules.intervals import covers
from staff.rules.reasons import Reason
from staff.selectors.records import RegimenBook, with_record
from staff.words import BEING_RECOMPUTED, NOT_STORED, reason_words


@dataclass(frozen=True)
class Readiness:
    """One row of the board. `clear` is true only when the stored interval and the record both say so."""

    person: Person
    on: date
    clear: bool
    reasons: tuple[Reason, ...]
    words: tuple[str, ...]
    advice: tuple[str, ...]

    @property
    def codes(self) -> list[str]:
        return [reason.code for reason in self.reasons]


def clearance_on(person: Person, on: date) -> Clearance | None:
    """The stored interval that allows rostering on `on`; None also while it waits to be recomputed."""
    return (
        Clearance.objects.filter(person=person, superseded_on__isnull=True, starts_on__lte=on)
        .filter(person__clearance_pending__isnull=True)
        .exclude(ends_on__lt=on)
        .order_by("-starts_on")
        .first()
    )


def cleared_people(site: Site, on: date) -> QuerySet[Person]:
    """Who is clear by what is stored; nobody whose stored clearance is older than the site's rules.

    The pages judge afresh (`readiness`) wherever somebody is put on; this only counts.
    """
    # Asked of each person: the database would else read the intervals of every site.
    covering = Clearance.objects.filter(
        person=OuterRef("pk"), superseded_on__isnull=True, starts_on__lte=on
    ).exclude(ends_on__lt=on)
    return Person.objects.filter(Exists(covering), site=site, clearance_pending__isnull=True)


def readiness(people: QuerySet[Person], on: date, sites: Iterable[Site]) -> list[Readiness]:
    """The board of `people` (all of `sites`) on `on`: a constant number of queries whatever their number."""
    book = RegimenBook.for_sites(sites)
    rows = []
    waiting = set(ClearancePending.objects.filter(person__in=people).values_list("person", flat=True))
    for person in with_record(people.select_related("site__rules")):
        judged = book.judge(person)
        stored = any(covers([row.as_interval()], on) for row in person.current_clearances)  # type: ignore[attr-defined]
        reasons = judged.reasons_on(on)
        rows.append(
            Readiness(
                person=person,
                on=on,
                clear=stored and not reasons,
                reasons=reasons,
                words=tuple(reason_words(reason) for reason in reasons)
                or unstored_words(stored, person.pk in waiting),
                advice=tuple(reason_words(reason) for reason in judged.advice_on(on)),
            )
        )
    return rows


def readiness_of(person: Person, on: date) -> Readiness:
    return readiness(Person.objects.filter(pk=person.pk), on, [person.site])[0]


def unstored_words(stored: bool, waiting: bool) -> tuple[str, ...]:
    # The record allows what the stored clearance does not: not clear until they agree again.
    if stored:
        return ()
    return (str(BEING_RECOMPUTED if waiting else NOT_STORED),)
