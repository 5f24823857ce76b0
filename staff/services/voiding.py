"""Taking back what was entered in error. The entry stays readable, with who voided it, when and why, and counts nowhere.

`void` is the only place that voids. What is locked before, who may, what is said in the audit trail and what follows
stands in a `VoidRule` for each model, beside the service that records it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar

from django.db import transaction
from django.utils.functional import Promise

from staff.ground.errors import Conflict
from staff.ground.transactions import retried
from staff.models import ClearanceLetter, Dose, Person, Titre, User, Voidable
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_refresh, lock_person, need_reason

ALREADY_VOIDED = "already-voided"

Row = TypeVar("Row", bound=Voidable)
Locked = TypeVar("Locked")
Entry = TypeVar("Entry", Dose, Titre, ClearanceLetter)


@dataclass(frozen=True)
class Voiding(Generic[Row]):
    """One void under way; `reason` is whole and without outer blanks."""

    actor: User
    row: Row
    reason: str
    now: datetime


@dataclass(frozen=True, kw_only=True)
class VoidRule(Generic[Row, Locked]):
    """How one kind of entry is voided; every part must be said.

    `lock` takes the locks, in the order the package takes them, and refuses whom or what may not; what it returns is
    handed to `follow`, which does in the same transaction what follows and may still refuse. `about` names the entry
    in the audit trail. `twice` is the sentence for one that is voided already.
    """

    model: type[Row]
    action: str
    twice: Promise
    lock: Callable[[Voiding[Row]], Locked]
    about: Callable[[Row], Mapping[str, Any]]
    follow: Callable[[Voiding[Row], Locked], object]


@retried
def void(*, actor: User, row: Row, reason: str, now: datetime, rule: VoidRule[Row, Locked]) -> Row:
    """Void one entry, once. Raises `Invalid` without a reason or with too long a one, `Conflict` (`ALREADY_VOIDED`) when
    it is voided already, and whatever the rule refuses with."""
    act = Voiding(actor=actor, row=row, reason=need_reason(reason), now=now)
    with transaction.atomic():
        locked = rule.lock(act)
        # Of two at once the second waits for the first here and finds nothing to void.
        standing = rule.model.everything.filter(pk=row.pk, voided_at__isnull=True)
        if standing.update(voided_at=now, voided_by=actor, void_reason=act.reason) != 1:
            raise already_voided(rule.twice)
        audit_write(actor=actor, action=rule.action, now=now, reason=act.reason, **rule.about(row))
        rule.follow(act, locked)
    row.refresh_from_db()
    return row


def already_voided(words: Promise) -> Conflict:
    """The one refusal for what is voided; `words` name the thing."""
    return Conflict(str(words), code=ALREADY_VOIDED)


def lock_record(act: Voiding[Entry]) -> Person:
    """The person whose record the entry is in, locked: what clears them changes."""
    return lock_person(act.row.person_id)


def refresh_record(act: Voiding[Entry], person: Person) -> None:
    clearance_refresh(person=person, now=act.now)
