"""Writing an import: everything in one transaction, or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.models import Briefing, Dose, Evidence, Person, PersonCrewRole, Site, User
from staff.rules.importing.cells import Sheet
from staff.rules.importing.columns import Field
from staff.selectors.access import OFFICER, has_role
from staff.selectors.record.records import RegimenBook, with_record
from staff.services.audit import audit_write
from staff.services.importing.check import import_check
from staff.services.importing.plan import Choices, ImportPlan, PersonPlan, Progress, Steps, fingerprint
from staff.services.record.clearance import clearance_refresh, lock_people
from staff.services.record.recompute import rules_lock

ROWS_A_STATEMENT = 500
# At most so many words of progress while writing: they fit what the network holds back for a slow reader, so
# that the transaction never waits for one.
STEPS_OF_WRITING = 10


@dataclass(frozen=True)
class Import:
    """A sheet, what the officer decided about it and who imports it where."""

    actor: User
    site: Site
    sheet: Sheet
    choices: Choices
    file_name: str


def import_apply(*, what: Import, now: datetime, seen: str | None = None) -> Steps[dict[str, int]]:
    """Bring the sheet in; yields progress, returns the counts of `ImportPlan.counts`.

    The people of the site are locked and the sheet is checked again first. Raises `NotAllowed` for anyone but
    the site's officer, `Invalid` when a problem stands or the evidence isn't stated, `Conflict` when `seen`
    (a `fingerprint`) is of another plan. After a raise, or when the caller stops before the end, nothing is
    written. A sheet that is on record already writes nothing.
    """
    if not has_role(what.actor, what.site, OFFICER):
        raise NotAllowed(_("Only the safety officer of the site imports its staff list."))
    if what.choices.evidence not in Evidence.values:
        raise Invalid({"evidence": _("Say what the dates rest on: were the certificates seen?")})
    with transaction.atomic():
        rules_lock(what.site.pk)
        lock_people(what.site.people.all())
        plan = yield from import_check(
            actor=what.actor, site=what.site, sheet=what.sheet, choices=what.choices, now=now
        )
        _refuse(plan, seen, what.choices)
        yield from _write(what, plan, now)
        counts = plan.counts()
        if plan.changed:
            audit_write(
                actor=what.actor,
                action="import.applied",
                now=now,
                site=what.site,
                file=what.file_name,
                evidence=what.choices.evidence,
                counts=counts,
            )
    return counts


def _refuse(plan: ImportPlan, seen: str | None, choices: Choices) -> None:
    if count := len(plan.problems):
        message = ngettext(
            "%(count)d problem stands; nothing was written.",
            "%(count)d problems stand; nothing was written.",
            count,
        ) % {"count": count}
        raise Invalid({"file": message})
    if seen is not None and seen != fingerprint(choices, plan):
        raise Conflict(
            _(
                "The record or the choices changed since you looked; nothing was written. Look again and confirm."
            ),
            code="import-changed",
        )


def _write(what: Import, plan: ImportPlan, now: datetime) -> Iterator[Progress]:
    try:
        with transaction.atomic():
            people = _people(what, plan)
    except IntegrityError as error:
        raise Conflict(
            _("Somebody added one of these people meanwhile; nothing was written. Look again and confirm."),
            code="import-changed",
        ) from error
    PersonCrewRole.objects.bulk_create(
        [
            PersonCrewRole(person=people[each.sheet.number], role=role)
            for each in plan.changed
            for role in each.new_roles
        ],
        batch_size=ROWS_A_STATEMENT,
    )
    Dose.objects.bulk_create(_doses(what, plan, people, now), batch_size=ROWS_A_STATEMENT)
    Briefing.objects.bulk_create(_briefings(what, plan, people, now), batch_size=ROWS_A_STATEMENT)
    yield from _follow(what, plan, people, now)


def _people(what: Import, plan: ImportPlan) -> dict[str, Person]:
    """Create who is new and change who differs; everybody touched, by staff number."""
    people = {each.sheet.number: each.person for each in plan.changed if each.person}
    new = [
        Person(
            site=what.site,
            number=each.sheet.number,
            name=each.sheet.name,
            email=each.sheet.texts.get(Field.EMAIL, ""),
            phone=each.sheet.texts.get(Field.PHONE, ""),
            language=what.site.language,
        )
        for each in plan.changed
        if each.person is None
    ]
    made = Person.objects.bulk_create(new, batch_size=ROWS_A_STATEMENT)
    return people | {person.number: person for person in made}


def _doses(what: Import, plan: ImportPlan, people: dict[str, Person], now: datetime) -> list[Dose]:
    return [
        Dose(
            person=people[each.sheet.number],
            given_on=dose.day,
            purpose=dose.purpose,
            route=dose.route,
            product=dose.product,
            batch=dose.batch,
            place=dose.place,
            evidence=what.choices.evidence,
            recorded_by=what.actor,
            recorded_at=now,
            recorded_on=what.site.local_date(now),
        )
        for each in plan.changed
        for dose in each.new_doses
    ]


def _briefings(what: Import, plan: ImportPlan, people: dict[str, Person], now: datetime) -> list[Briefing]:
    return [
        Briefing(
            person=people[each.sheet.number],
            held_on=day,
            recorded_by=what.actor,
            recorded_at=now,
            recorded_on=what.site.local_date(now),
        )
        for each in plan.changed
        for day in each.new_briefings
    ]


def _follow(what: Import, plan: ImportPlan, people: dict[str, Person], now: datetime) -> Iterator[Progress]:
    """Contact data, audit rows and clearance of everybody touched."""
    book = RegimenBook.for_sites([what.site])
    total = len(plan.changed)
    step = max(1, total // STEPS_OF_WRITING)
    for start in range(0, total, ROWS_A_STATEMENT):
        part = plan.changed[start : start + ROWS_A_STATEMENT]
        keys = [people[each.sheet.number].pk for each in part]
        records = with_record(Person.objects.filter(pk__in=keys).select_related("site__rules"))
        by_number = {person.number: person for person in records}
        for done, each in enumerate(part, start=start + 1):
            person = by_number[each.sheet.number]
            _note(what, each, person, now)
            if each.changes_clearance:
                clearance_refresh(person=person, now=now, book=book)
            if done % step == 0 or done == total:
                yield Progress("write", done, total)


def _note(what: Import, each: PersonPlan, person: Person, now: datetime) -> None:
    """Change the contact data and append what happened to this person to the audit trail."""
    if each.person is None:
        audit_write(actor=what.actor, action="person.added", now=now, person=person, file=what.file_name)
    elif each.changes or each.new_roles:
        old = {name: str(getattr(person, name)) for name in each.changes}
        for name, value in each.changes.items():
            setattr(person, name, value)
        person.save(update_fields=list(each.changes))
        audit_write(
            actor=what.actor,
            action="person.changed",
            now=now,
            person=person,
            old=old,
            new=each.changes,
            crew_roles_added=each.new_roles,
            file=what.file_name,
        )
    if each.new_doses:
        audit_write(
            actor=what.actor,
            action="doses.imported",
            now=now,
            person=person,
            given_on=[dose.day.isoformat() for dose in each.new_doses],
            evidence=what.choices.evidence,
            file=what.file_name,
        )
    if each.new_briefings:
        audit_write(
            actor=what.actor,
            action="briefings.imported",
            now=now,
            person=person,
            held_on=[day.isoformat() for day in each.new_briefings],
            file=what.file_name,
        )
