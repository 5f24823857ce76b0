"""Closing a case, opening it again, and holding it open while a step is recorded."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict
from safety.models import Incident
from safety.rules.case.needs import Bar
from safety.selectors.case.need_words import BARRED
from safety.selectors.case.needs import needs_of
from staff.ground.limits import within
from staff.models import User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason


def lock_open_case(incident: Incident) -> None:
    """Refuse a closed case, and lock an open one until the caller's transaction ends."""
    if not Incident.objects.select_for_update(of=("self",), no_key=True).get(pk=incident.pk).is_open:
        raise Conflict(_("This case is closed."), code="case-closed")


def incident_close(
    *, actor: User, incident: Incident, reason: str, now: datetime, without_details: bool = False
) -> None:
    """Close a case with a reason; refused while it needs something that bars closing (safety.rules.case.needs).

    That the phone's answers aren't all in bars it no more when they will never come (`without_details`).
    """
    reason = within(need_reason(reason), Incident, "close_reason", field="reason")
    with transaction.atomic():
        locked = (
            Incident.objects.select_for_update(of=("self",))
            .select_related("site__rules", "person")
            .get(pk=incident.pk)
        )
        if not locked.is_open:
            raise Conflict(_("This case is closed already."), code="case-closed")
        _need_nothing_bars(locked, now, without_details=without_details)
        locked.closed_at, locked.closed_by, locked.close_reason = now, actor, reason
        locked.save(update_fields=["closed_at", "closed_by", "close_reason"])
        audit_write(
            actor=actor,
            action="incident.closed",
            now=now,
            person=locked.person,
            target=locked.reference,
            reason=reason,
            complete=locked.details_at is not None,
        )


def _need_nothing_bars(incident: Incident, now: datetime, *, without_details: bool) -> None:
    for need in needs_of(incident, now):
        if need.bars is None or (need.bars is Bar.DETAILS and without_details):
            continue
        message = str(BARRED[need.bars])
        fields = {"without_details": message} if need.bars is Bar.DETAILS else {}
        raise Conflict(message, code=need.bars.value, fields=fields)


def incident_reopen(*, actor: User, incident: Incident, reason: str, now: datetime) -> None:
    """Open a closed case again; why it had been closed stays in the audit trail. Refused for an open one."""
    reason = need_reason(reason)
    with transaction.atomic():
        locked = Incident.objects.select_for_update(of=("self",)).select_related("person").get(pk=incident.pk)
        if locked.is_open:
            raise Conflict(_("This case is open already."), code="case-open")
        _open_again(locked, actor, reason, now)


def incident_reopen_for_report(
    *, incident: Incident, actor: User | None, now: datetime, audited: dict[str, Any]
) -> None:
    """Open a case whose report came after it was closed, so that it is listed and told again.

    The caller holds the row's lock. Does nothing for an open case.
    """
    if not incident.is_open:
        incident.late_report_at = now
        incident.save(update_fields=["late_report_at"])
        _open_again(incident, actor, "its report came after it was closed", now, **audited)


def _open_again(incident: Incident, actor: User | None, reason: str, now: datetime, **audited: Any) -> None:
    audit_write(
        actor=actor,
        action="incident.reopened",
        now=now,
        person=incident.person,
        target=incident.reference,
        reason=reason,
        closed_for=incident.close_reason,
        **audited,
    )
    incident.closed_at, incident.closed_by, incident.close_reason = None, None, ""
    incident.save(update_fields=["closed_at", "closed_by", "close_reason"])
