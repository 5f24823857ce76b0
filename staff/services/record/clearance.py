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

from django.db.models import QuerySet
from django.utils import translation
from django.utils.translation import gettext as _

from staff.ground.errors import Invalid
from staff.ground.limits import fitting
from staff.ground.transactions import Crossed
from staff.models import Assignment, Clearance, ClearancePending, Outing, Person, PersonDue, User, Withdrawal
from staff.models.voidable import REASON_LENGTH
from staff.rules.record.clearance import Clearance as ClearanceRule
from staff.rules.record.due import due_dates
from staff.rules.record.intervals import covers
from staff.selectors.record.records import RegimenBook, facts_of, rows_of
from staff.services.record.dose_standings import dose_standings_write
from staff.words import sentence


def lock_person(person_id: int) -> Person:
    """The person's row, locked until the transaction ends: two changes of one record never cross."""
    return _locked(Person.objects.filter(pk=person_id)).get()


def lock_people(people: QuerySet[Person]) -> list[Person]:
    """All of `people`, locked in the order of their keys before anything else is."""
    return list(_locked(people).order_by("pk"))


def lock_outing(outing_id: int) -> Outing:
    """The outing as it is now, locked until the transaction ends; take it after the people."""
    rows = Outing.objects.select_for_update(of=("self",), no_key=True).select_related("site__rules")
    return rows.get(pk=outing_id)


def _locked(people: QuerySet[Person]) -> QuerySet[Person]:
    """Locked first and read afterwards: who waited for the lock would else judge by the rules of before it."""
    locked = people.order_by("pk").select_for_update(of=("self",), no_key=True)
    keys = list(locked.values_list("pk", flat=True))
    return Person.objects.filter(pk__in=keys).select_related("site__rules")


def clearance_refresh(*, person: Person, now: datetime, book: RegimenBook | None = None) -> list[Withdrawal]:
    """Store the intervals the record gives now; withdraw what no longer rests on one.

    Call inside a transaction with the person locked. Assignments on outings from the site's today on move
    to the new interval that covers them or are withdrawn; those of past outings keep what they rested on.
    Returns the withdrawals made.
    """
    # Before the record is read: a mark that comes after this stays. And before any assignment moves: the guard
    # refuses a person who is marked.
    ClearancePending.objects.filter(person=person).delete()
    book = book or RegimenBook.for_sites([person.site])
    facts = facts_of(person)
    judged = book.judge(person, facts)
    dose_standings_write(judged=[(person, book.judge_doses(person, facts))])
    _dues_write([(person, judged)])
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


def clearance_catch_up(*, person: Person, now: datetime) -> None:
    """Recompute somebody (locked) whose clearance is older than the site's rules; nothing for everybody else."""
    if ClearancePending.objects.filter(person=person).exists():
        clearance_refresh(person=person, now=now)


def clearance_refresh_many(*, people: list[Person], now: datetime, book: RegimenBook) -> list[Withdrawal]:
    """The same as `clearance_refresh` for each of `people` (of one site, locked, with their record), by the dozen.

    The caller has taken their marks away before it read the record.

    Whoever is on a coming outing goes one by one: there assignments may have to move.
    Returns the withdrawals made.
    """
    if not people:
        return []
    today = people[0].site.local_date(now)
    rostered = set(
        Assignment.objects.filter(person__in=people, outing__date__gte=today).values_list(
            "person_id", flat=True
        )
    )
    withdrawn: list[Withdrawal] = []
    for person in people:
        if person.pk in rostered:
            withdrawn += clearance_refresh(person=person, now=now, book=book)
    rest = [person for person in people if person.pk not in rostered]
    facts = [(person, facts_of(person)) for person in rest]
    judged = [(person, book.judge(person, read)) for person, read in facts]
    dose_standings_write(judged=((person, book.judge_doses(person, read)) for person, read in facts))
    _dues_write(judged)
    current: dict[int, list[Clearance]] = {person.pk: [] for person in rest}
    standing = Clearance.objects.filter(person__in=rest, superseded_on__isnull=True).order_by("pk")
    for row in standing.select_for_update(of=("self",), no_key=True):
        current[row.person_id].append(row)
    new, obsolete = [], []
    for person, rule in judged:
        wanted, held = set(rule.intervals), {row.as_interval() for row in current[person.pk]}
        obsolete += [row for row in current[person.pk] if row.as_interval() not in wanted]
        new += [
            Clearance(person=person, starts_on=gap.starts_on, ends_on=gap.ends_on, computed_at=now)
            for gap in sorted(wanted - held, key=lambda gap: gap.starts_on)
        ]
    Clearance.objects.bulk_create(new)
    _retire(obsolete, today)
    return withdrawn


def _dues_write(judged: Iterable[tuple[Person, ClearanceRule]]) -> None:
    new: list[PersonDue] = []
    gone: list[int] = []
    for person, rule in judged:
        wanted = {(str(due.kind), due.due_on) for due in due_dates(rule)}
        stored = {(row.kind, row.due_on): row.pk for row in rows_of(person, "dues")}
        gone += [key for due, key in stored.items() if due not in wanted]
        new += [
            PersonDue(person=person, kind=kind, due_on=due_on)
            for kind, due_on in sorted(wanted - stored.keys())
        ]
    if gone:
        PersonDue.objects.filter(pk__in=gone).delete()
    PersonDue.objects.bulk_create(new)


def _rest_elsewhere(
    person: Person, obsolete: list[Clearance], judged: ClearanceRule, today: date, now: datetime
) -> list[Withdrawal]:
    resting = Assignment.objects.filter(clearance__in=obsolete, outing__date__gte=today).select_related(
        "outing", "crew"
    )
    if not (assignments := list(resting.select_for_update(of=("self",), no_key=True))):
        return []
    standing = person.clearances.filter(superseded_on__isnull=True)
    current = list(standing.exclude(pk__in=[gone.pk for gone in obsolete]))
    withdrawn = []
    for assignment in assignments:
        day = assignment.outing.date
        cover = next((row for row in current if covers([row.as_interval()], day)), None)
        if cover is not None:
            assignment.clearance = cover
            assignment.save(update_fields=["clearance"])
        else:
            withdrawn.append(withdraw(assignment, reason=withdrawal_reason(person, judged, day), now=now))
    return withdrawn


def withdrawal_reason(person: Person, judged: ClearanceRule, day: date) -> str:
    """Why the record takes somebody off on that date, in the site's language."""
    with translation.override(person.site.language):
        return fitting(sentence(judged.reasons_on(day)), Withdrawal, "reason")


def withdraw(assignment: Assignment, *, reason: str, now: datetime, actor: User | None = None) -> Withdrawal:
    """Take somebody off, by rule without an `actor`: the assignment ends, the withdrawal row says why."""
    row = Withdrawal.objects.create(
        outing=assignment.outing,
        crew_name=assignment.crew.name,
        person=assignment.person,
        role=assignment.role,
        reason=reason,
        by_rule=actor is None,
        withdrawn_by=actor,
        withdrawn_at=now,
    )
    if not Assignment.objects.filter(pk=assignment.pk).update(withdrawal=row, clearance=None):
        # Somebody ended it past the lock on the person.
        raise Crossed
    return row


def _retire(rows: Iterable[Clearance], today: date) -> None:
    keys = [row.pk for row in rows]
    if not keys:
        return
    used = set(Assignment.objects.filter(clearance__in=keys).values_list("clearance_id", flat=True))
    if used:
        Clearance.objects.filter(pk__in=used).update(superseded_on=today)
    Clearance.objects.filter(pk__in=set(keys) - used).delete()


def need_reason(reason: str, field: str = "reason") -> str:
    """The whole of `reason` without outer blanks; refused when nothing is left, or more than its column keeps."""
    said = reason.strip()
    # What nobody can read is no reason: a blank of no width is a character too.
    if not any(char.isprintable() and not char.isspace() for char in said):
        raise Invalid({field: _("Say why; the reason stays with the record.")})
    if len(said) > REASON_LENGTH:
        words = _("Say why in at most %(most)d characters; these are %(count)d.")
        raise Invalid({field: words % {"most": REASON_LENGTH, "count": len(said)}})
    return said
