"""Holds: keeping a person off the roster from a day on, and ending that."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Hold, Person, User
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_refresh, lock_person, need_reason
from staff.services.record.own_record import need_somebody_else
from staff.services.record.records import EARLIEST_DATE

# The source of a hold an officer places; others name what they come from.
OFFICERS = "officer"
# As far ahead as outings are planned.
AHEAD = timedelta(days=3 * 366)


def _check_start(starts_on: date, today: date) -> None:
    if not EARLIEST_DATE <= starts_on <= today + AHEAD:
        raise Invalid({"starts_on": _("This can't be right; check the year.")})


@retried
def hold_place(
    *,
    actor: User | None,
    person: Person,
    starts_on: date,
    reason: str,
    now: datetime,
    source: str = OFFICERS,
) -> Hold:
    """Keep a person off the roster from `starts_on` until released; an open hold of the same source is kept.

    Without an actor it was a report from the phone; the case of `source` says by whose link.
    """
    reason = within(need_reason(reason), Hold, "reason")
    with transaction.atomic():
        locked = lock_person(person.pk)
        if source == OFFICERS:
            _check_start(starts_on, locked.site.local_date(now))
        hold, made = Hold.objects.get_or_create(
            person=locked,
            source=source,
            released_at=None,
            defaults={"starts_on": starts_on, "reason": reason, "placed_by": actor, "placed_at": now},
        )
        if made:
            audit_write(
                actor=actor, action="hold.placed", now=now, person=locked, reason=reason, source=source
            )
            clearance_refresh(person=locked, now=now)
    return hold


@retried
def hold_release(*, actor: User | None, hold: Hold, last_day: date, note: str, now: datetime) -> None:
    """End a hold; the person may be clear from the day after `last_day`. Releasing twice is refused."""
    note = within(need_reason(note, "note"), Hold, "release_note", field="note")
    with transaction.atomic():
        person = lock_person(hold.person_id)
        need_somebody_else(actor=actor, person=person)
        changed = Hold.objects.filter(pk=hold.pk, released_at__isnull=True).update(
            ends_on=max(last_day, hold.starts_on), released_by=actor, released_at=now, release_note=note
        )
        if changed != 1:
            raise Conflict(_("This hold is released already."), code="hold-released")
        audit_write(actor=actor, action="hold.released", now=now, person=person, note=note)
        clearance_refresh(person=person, now=now)
