"""The one writer of clearance intervals.

Every service that changes a fact locks the person first, writes the fact and calls `clearance_refresh` in
the same transaction, so that what is stored always follows from the record.

Locks are taken in one order everywhere: people (by key), outing, clearances, assignments. They are
"no key" locks, which still shut out each other and the guards' FOR SHARE, but let foreign keys to the
row be checked: with FOR UPDATE two such services waited for each other.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils import translation

from staff.errors import Invalid
from staff.models import Assignment, Clearance, Person, Site, Withdrawal
from staff.rules.clearance import Clearance as ClearanceRule
from staff.rules.intervals import covers
from staff.selectors.records import RegimenBook
from staff.words import sentence


def lock_person(person_id: int) -> Person:
    """The person's row, locked until the transaction ends: two changes of one record never cross."""
    return _locked(Person.objects.all()).get(pk=person_id)


def lock_people(people: QuerySet[Person]) -> list[Person]:
    """All of `people`, locked in the order of their keys before anything else is."""
    return list(_locked(people).order_by("pk"))


def _locked(people: QuerySet[Person]) -> QuerySet[Person]:
    return people.select_for_update(of=("self",), no_key=True).select_related("site__rules")


def clearance_refresh(*, person: Person, now: datetime, book: RegimenBook | None = None) -> list[Withdrawal]:
    """Store the intervals the record gives now; withdraw what no longer rests on one.

    Call inside a transaction with the person locked. Assignments on outings from the site's today on move
    to the new interval that covers them or are withdrawn; those of past outings keep what they rested on.
    Returns the withdrawals made.
    """
    judged = (book or RegimenBook.for_sites([person.site])).judge(person)
    today = person.site.local_date(now)
    wanted = set(judged.intervals)
    current = list(person.clearances.select_for_update(no_key=True).filter(superseded_on__isnull=True))
    obsolete = [row for row in current if row.as_interval() not in wanted]
    kept = {row.as_interval() for row in current} & wanted
    Clearance.objects.bulk_create(
        Clearance(person=person, starts_on=gap.starts_on, ends_on=gap.ends_on, computed_at=now)
        for gap in sorted(wanted - kept, key=lambda gap: gap.starts_on)
    )
    withdrawn = _rest_elsewhere(person, obsolete, judged, today, now) if obsolete else []
    _retire(obsolete, today)
    return withdrawn


def _rest_elsewhere(
    person: Person, obsolete: list[Clearance], judged: ClearanceRule, today: date, now: datetime
) -> list[Withdrawal]:
    current = [
        row
        for row in person.clearances.filter(superseded_on__isnull=True)
        if row.pk not in {gone.pk for gone in obsolete}
    ]
    withdrawn = []
    resting = Assignment.objects.filter(clearance__in=obsolete, outing__date__gte=today).select_related(
        "outing", "crew"
    )
    for assignment in resting.select_for_update(of=("self",), no_key=True):
        day = assignment.outing.date
        cover = next((row for row in current if covers([row.as_interval()], day)), None)
        if cover is not None:
            assignment.clearance = cover
            assignment.save(update_fields=["clearance"])
        else:
            withdrawn.append(withdraw(assignment, reason=_why(person, judged, day), now=now))
    return withdrawn


def _why(person: Person, judged: ClearanceRule, day: date) -> str:
    with translation.override(person.site.language):
        return sentence(judged.reasons_on(day))[:300]


def withdraw(assignment: Assignment, *, reason: str, now: datetime) -> Withdrawal:
    """Take somebody off by rule: the assignment goes, the withdrawal row says why."""
    row = Withdrawal.objects.create(
        outing=assignment.outing,
        crew_name=assignment.crew.name,
        person=assignment.person,
        role=assignment.role,
        reason=reason,
        by_rule=True,
        withdrawn_at=now,
    )
    assignment.delete()
    return row


def _retire(rows: Iterable[Clearance], today: date) -> None:
    for row in rows:
        if row.assignments.exists():
            row.superseded_on = today
            row.save(update_fields=["superseded_on"])
        else:
            row.delete()


def clearance_refresh_site(*, site: Site, now: datetime) -> int:
    """Recompute everybody of a site after its rules or approved regimens changed; returns how many people."""
    with transaction.atomic():
        # All before the first: a refresh locks outings, and who waits for one of those may hold a later person.
        people = lock_people(site.people.all())
        book = RegimenBook.for_sites([site])
        for person in people:
            clearance_refresh(person=person, now=now, book=book)
    return len(people)


def need_reason(reason: str, field: str = "reason") -> str:
    """`reason` without outer blanks; refused when nothing is left."""
    if not reason.strip():
        raise Invalid({field: "Say why; the reason stays with the record."})
    return reason.strip()
