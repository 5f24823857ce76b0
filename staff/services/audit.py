"""Writing the audit trail."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from staff.models import AuditEntry, Person, Site, User


def audit_write(
    *,
    actor: User | None,
    action: str,
    now: datetime,
    site: Site | None = None,
    person: Person | None = None,
    target: str = "",
    **detail: Any,
) -> AuditEntry:
    """Append one row; call it in the transaction of the change. `detail` holds old and new values, JSON types only."""
    return AuditEntry.objects.create(
        at=now,
        actor=actor,
        action=action,
        site=site or (person.site if person else None),
        person=person,
        target=target,
        detail=detail,
    )


def audit_look(*, viewer: User, person: Person, now: datetime, target: str = "") -> None:
    """Note that `viewer` opened somebody else's record; a look at one's own leaves no row."""
    if person.user_id != viewer.pk:
        audit_write(actor=viewer, action="record.seen", now=now, person=person, target=target)
