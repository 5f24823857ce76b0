"""Comparing what is stored with what the records say. Reads only; on a healthy database nothing differs."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial

from django.db.models import Count, F, Q

from staff.models import (
    Assignment,
    Certificate,
    ClearanceLetter,
    ClearancePending,
    Dose,
    Evidence,
    Person,
    RulesChange,
    Site,
    Titre,
)
from staff.rules.record.dose_standing import DoseJudgement
from staff.rules.record.due import due_dates
from staff.rules.regimen.values import Interval
from staff.selectors.record.documents import path_of
from staff.selectors.record.records import RegimenBook, with_record

logger = logging.getLogger(__name__)

CHUNK = 500


@dataclass(frozen=True)
class Difference:
    """One thing that isn't as it should be: which row, what is stored, what the record says."""

    row: str
    stored: str
    computed: str

    def __str__(self) -> str:
        return f"{self.row}: stored {self.stored}, by the record {self.computed}"


def readable(row: str, find: Callable[[], Iterable[Difference]]) -> Iterator[Difference]:
    """What `find` yields. A record that can't be read is a finding too, and never hides those after it."""
    try:
        yield from find()
    except Exception as error:
        # Whatever a damaged row makes the rules raise: it is told, with its row.
        logger.exception("%s can't be read", row)
        yield Difference(row, "what can't be read", f"nothing ({type(error).__name__}: {error})")


def differences(now: datetime) -> Iterator[Difference]:
    """Every difference in the staff records: clearances, due dates, assignments, doses, own entries, documents,
    unfinished recomputes."""
    yield from readable("records of people, regimens among them", _clearances)
    yield from _recomputes()
    yield from _assignments(now)
    yield from _doses()
    yield from _own_entries()
    yield from _documents()


def _clearances() -> Iterator[Difference]:
    book = RegimenBook.for_sites(Site.objects.all())
    people = with_record(
        Person.objects.select_related("site__rules").prefetch_related("dues", "dose_standings").order_by("pk")
    )
    for person in people.iterator(chunk_size=CHUNK):
        yield from readable(f"record of person {person.pk} ({person.number})", partial(_person, person, book))


def _person(person: Person, book: RegimenBook) -> Iterator[Difference]:
    stored = sorted(
        (row.as_interval() for row in person.current_clearances),  # type: ignore[attr-defined]
        key=lambda interval: (interval.starts_on, str(interval.ends_on)),
    )
    judged = book.judge(person)
    computed = list(judged.intervals)
    if stored != computed:
        yield Difference(f"clearance of person {person.pk} ({person.number})", _show(stored), _show(computed))
    yield from _standings(person, book.judge_doses(person))
    yield from _dues(person, {(str(due.kind), due.due_on) for due in due_dates(judged)})


def _standings(person: Person, judged: Sequence[DoseJudgement]) -> Iterator[Difference]:
    stored = {row.dose_id: row.as_judgement() for row in person.dose_standings.all()}
    computed = {one.dose_id: one for one in judged}
    for key in sorted(stored.keys() | computed.keys()):
        if stored.get(key) != computed.get(key):
            yield Difference(
                f"standing of dose {key}", _counted(stored.get(key)), _counted(computed.get(key))
            )


def _counted(one: DoseJudgement | None) -> str:
    if one is None:
        return "none"
    return f"counts as dose {one.step}" if one.counts else f"doesn't count ({one.reason or 'no reason'})"


def _dues(person: Person, computed: set[tuple[str, date]]) -> Iterator[Difference]:
    stored = {(due.kind, due.due_on) for due in person.dues.all()}
    if stored != computed:
        yield Difference(
            f"due dates of person {person.pk} ({person.number})", _dated(stored), _dated(computed)
        )


def _dated(dues: set[tuple[str, date]]) -> str:
    return ", ".join(f"{kind} {due_on}" for kind, due_on in sorted(dues)) or "none"


def _recomputes() -> Iterator[Difference]:
    """A change of rules that isn't through, and records that changed past the services: named, for until the
    next tick those people's clearance lags behind."""
    for change in RulesChange.objects.filter(
        Q(finished_at__isnull=True) | Q(pending__isnull=False)
    ).distinct():
        waiting = change.pending.count()
        yield Difference(
            f"rules change {change.pk} of site {change.site_id}",
            f"{waiting} of {change.total} people wait" if waiting else "under way and nobody waits",
            "everybody recomputed; the next tick goes on with it",
        )
    for mark in ClearancePending.objects.filter(change__isnull=True):
        yield Difference(
            f"clearance of person {mark.person_id}",
            "older than the record, which changed past the services",
            "recomputed; the next tick does it",
        )


def _show(intervals: list[Interval]) -> str:
    return ", ".join(f"{i.starts_on}–{i.ends_on or '…'}" for i in intervals) or "never"


def _assignments(now: datetime) -> Iterator[Difference]:
    """Assignments ahead must rest on a current clearance of their person, of that site, that covers the date."""
    wrong = Q(clearance__superseded_on__isnull=False) | ~Q(clearance__person=F("person"))
    wrong |= Q(clearance__starts_on__gt=F("outing__date")) | Q(clearance__ends_on__lt=F("outing__date"))
    wrong |= Q(outing__cancelled_at__isnull=False) | ~Q(crew__outing=F("outing"))
    wrong |= ~Q(person__site=F("outing__site"))
    for site in Site.objects.all():
        yield from readable(f"rosters of site {site.pk}", partial(_ahead, site, wrong, now))


def _ahead(site: Site, wrong: Q, now: datetime) -> Iterator[Difference]:
    ahead = Assignment.objects.filter(wrong, outing__site=site, outing__date__gte=site.local_date(now))
    for assignment in ahead.select_related("clearance", "outing"):
        yield Difference(
            f"assignment {assignment.pk} of person {assignment.person_id} on outing {assignment.outing_id}",
            _show([assignment.clearance.as_interval()] if assignment.clearance else []),
            f"not clear on {assignment.outing.date}",
        )


def _doses() -> Iterator[Difference]:
    """Doses the constraints would refuse, should somebody have taken the constraints away."""
    twice = Dose.objects.values("person", "given_on").annotate(rows=Count("pk")).filter(rows__gt=1)
    for row in twice:
        yield Difference(
            f"doses of person {row['person']} on {row['given_on']}", f"{row['rows']} unvoided", "1"
        )
    for dose in Dose.everything.filter(given_on__gt=F("recorded_on")):
        yield Difference(
            f"dose {dose.pk}", f"given {dose.given_on}", f"recorded {dose.recorded_on}, before it was given"
        )


def _documents() -> Iterator[Difference]:
    """Files that are gone or aren't what was sent: what was checked by them can't be shown any more."""
    for row in Certificate.objects.order_by("pk").iterator(chunk_size=CHUNK):
        yield from readable(f"document {row.pk}", partial(_document, row))


def _document(row: Certificate) -> Iterator[Difference]:
    path = path_of(row.key)
    if not path.is_file():
        yield Difference(f"document {row.pk}", "no file", f"a file of {row.size} bytes")
    elif hashlib.sha256(path.read_bytes()).hexdigest() != row.sha256:
        yield Difference(f"document {row.pk}", "another file than was sent", f"sha256 {row.sha256}")


def _own_entries() -> Iterator[Difference]:
    """What somebody put on their own record before the account was linked to it. Somebody else voids it and records
    it anew."""
    for rows in (
        Dose.objects.exclude(evidence=Evidence.NONE),
        Titre.objects.all(),
        ClearanceLetter.objects.all(),
    ):
        for row in rows.filter(recorded_by=F("person__user")):
            name = row._meta.verbose_name
            yield Difference(
                f"{name} {row.pk}", "recorded by the person themself", "somebody else's to record"
            )
