"""Putting right what was written down about the washing."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict
from safety.models import WashSpell
from staff.models import User
from staff.services.audit import audit_write
from staff.services.clearance import need_reason


def wash_void(*, actor: User, spell: WashSpell, reason: str, now: datetime) -> None:
    """Mark a spell as entered in error; it stays readable and no longer counts. Voiding twice is refused."""
    reason = need_reason(reason)
    with transaction.atomic():
        changed = WashSpell.objects.filter(pk=spell.pk, voided_at__isnull=True).update(
            voided_at=now, void_reason=reason[:300]
        )
        if changed != 1:
            raise Conflict(_("This spell is voided already."), code="wash-voided")
        audit_write(
            actor=actor,
            action="wash.voided",
            now=now,
            person=spell.incident.person,
            target=spell.incident.reference,
            spell=spell.pk,
            reason=reason,
        )
