"""Safety briefings: who took part, and when. One briefing a person and day, however often it is sent.

It needs no document, so what a staff list's doses rest on says nothing about its briefings.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Invalid, NotAllowed
from staff.ground.transactions import retried
from staff.models import Briefing, ClearancePending, Person, Site, User
from staff.selectors.access import OFFICER, has_role
from staff.selectors.record.records import RegimenBook, with_record
from staff.services.audit import audit_write
from staff.services.record.clearance import (
    clearance_refresh,
    clearance_refresh_many,
    lock_people,
    lock_person,
)
from staff.services.record.own_record import need_somebody_else
from staff.services.record.records import check_past_date

ROWS_A_STATEMENT = 500


@dataclass(frozen=True)
class Briefed:
    """How many people got the briefing on their record, and how many had it there already."""

    recorded: int
    standing: int


@retried
def briefing_record(
    *, actor: User, person: Person, held_on: date, now: datetime, held_by: str = ""
) -> Briefing:
    """Note that the person took part in a safety briefing; the same day twice is one briefing. Raises
    `NotAllowed` for who records their own."""
    with transaction.atomic():
        locked = lock_person(person.pk)
        check_past_date("held_on", held_on, locked.site.local_date(now))
        if _keep(actor, [locked], held_on, held_by, now):
            clearance_refresh(person=locked, now=now)
        return locked.briefings.get(held_on=held_on)


@retried
def briefings_record(
    *,
    actor: User,
    site: Site,
    people: Collection[int],
    held_on: date,
    now: datetime,
    held_by: str = "",
) -> Briefed:
    """Note one briefing for each of `people` (by key, all of `site`): all of them or nobody.

    Sent again it changes nothing. Raises `NotAllowed` for anyone but the site's officer and for an officer among
    `people`, `Invalid` for a date that can't be, for nobody, and for somebody who isn't of the site.
    """
    if not has_role(actor, site, OFFICER):
        raise NotAllowed(_("Only the safety officer of the site records a briefing of its people."))
    if not people:
        raise Invalid({"people": _("Tick at least one person who took part.")})
    with transaction.atomic():
        locked = lock_people(site.people.filter(pk__in=people))
        if len(locked) != len(set(people)):
            raise Invalid(
                {"people": _("Somebody ticked isn't of this site; nothing was recorded. Look again.")}
            )
        check_past_date("held_on", held_on, site.local_date(now))
        made = _keep(actor, locked, held_on, held_by, now, field="people")
        _refresh(site, made, now)
    return Briefed(recorded=len(made), standing=len(locked) - len(made))


def _keep(
    actor: User, people: list[Person], held_on: date, held_by: str, now: datetime, field: str = "person"
) -> list[int]:
    """Add the briefing to each of `people` (locked) who hasn't got it; their keys."""
    standing = set(
        Briefing.objects.filter(person__in=people, held_on=held_on).values_list("person", flat=True)
    )
    new = [person for person in people if person.pk not in standing]
    for person in new:
        need_somebody_else(actor=actor, person=person, field=field)
    Briefing.objects.bulk_create(
        [
            Briefing(
                person=person,
                held_on=held_on,
                held_by=held_by,
                recorded_by=actor,
                recorded_at=now,
                recorded_on=person.site.local_date(now),
            )
            for person in new
        ],
        batch_size=ROWS_A_STATEMENT,
    )
    for person in new:
        audit_write(
            actor=actor, action="briefing.recorded", now=now, person=person, held_on=held_on.isoformat()
        )
    return [person.pk for person in new]


def _refresh(site: Site, people: list[int], now: datetime) -> None:
    # Marks go before the record is read: one that comes after stays.
    ClearancePending.objects.filter(person__in=people).delete()
    records = with_record(Person.objects.filter(pk__in=people).select_related("site__rules"))
    book = RegimenBook.for_sites([site])
    clearance_refresh_many(people=list(records.order_by("pk")), now=now, book=book)
