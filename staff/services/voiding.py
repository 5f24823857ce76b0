"""Taking back what was entered in error. The entry stays readable, with who voided it, when and why."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from staff.errors import Conflict
from staff.models import ClearanceLetter, Dose, Titre, User
from staff.services.audit import audit_write
from staff.services.clearance import clearance_refresh, lock_person, need_reason


def entry_void(
    *,
    actor: User,
    row: Dose | Titre | ClearanceLetter,
    kind: str,
    reason: str,
    now: datetime,
    refusal: Conflict,
    **detail: Any,
) -> None:
    """Void one entry and bring the clearance up to date; raises `refusal` when it is voided already, `Invalid`
    without a reason. `kind` names the entry in the audit trail."""
    reason = need_reason(reason)[:300]
    with transaction.atomic():
        person = lock_person(row.person_id)
        standing = type(row)._default_manager.filter(pk=row.pk, voided_at__isnull=True)
        if standing.update(voided_at=now, voided_by=actor, void_reason=reason) != 1:
            raise refusal
        audit_write(
            actor=actor,
            action=f"{kind}.voided",
            now=now,
            person=person,
            target=f"{kind}:{row.pk}",
            reason=reason,
            **detail,
        )
        clearance_refresh(person=person, now=now)
    row.refresh_from_db()
