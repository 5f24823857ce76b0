"""Reports that wait for a name: an officer takes one, says whose it is, or sets it aside, each with a reason."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict
from safety.models import PhoneMessage
from safety.services.phone.opened import message_opened
from safety.services.phone.outcome import State, held_words
from safety.services.phone.place import place_under
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import Person, User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason


def _locked(message: PhoneMessage) -> PhoneMessage:
    row = PhoneMessage.objects.select_for_update(of=("self",)).get(pk=message.pk)
    if row.state != State.HELD:
        raise Conflict(_("Somebody has dealt with this report already."), code="message-settled")
    return row


def held_take(*, actor: User, message: PhoneMessage, reason: str, now: datetime) -> None:
    """Let one officer read a report that names no link; from then on it waits for that officer alone."""
    reason = within(need_reason(reason), PhoneMessage, "settle_reason", field="reason")
    with transaction.atomic():
        row = _locked(message)
        if row.link_id is not None or row.settled_by_id is not None:
            raise Conflict(_("Another officer has taken this report."), code="message-taken")
        row.settled_by, row.settle_reason = actor, reason
        row.save(update_fields=["settled_by", "settle_reason"])
        audit_write(
            actor=actor, action="phone-message.taken", now=now, target=f"message:{row.pk}", reason=reason
        )


@retried
def held_place(
    *, actor: User, message: PhoneMessage, person: Person, reason: str, now: datetime
) -> PhoneMessage:
    """Place a held report under `person`. Raises `Conflict` when it can't be opened or its case is filled in already."""
    reason = within(need_reason(reason), PhoneMessage, "settle_reason", field="reason")
    with transaction.atomic():
        row = _locked(message)
        sent = message_opened(row)
        if sent is None:
            raise Conflict(
                _("This report can't be opened. Ask who may have sent it, then set it aside."),
                code="message-unreadable",
            )
        outcome = place_under(actor, sent, person, now)
        if outcome.state != State.PLACED:
            raise Conflict(held_words(outcome.reason), code="message-unplaced")
        row.state, row.reason, row.incident = State.PLACED, outcome.reason, outcome.incident
        row.settled_at, row.settled_by, row.settle_reason = now, actor, reason
        row.save()
        audit_write(
            actor=actor,
            action="phone-message.placed",
            now=now,
            person=person,
            target=f"message:{row.pk}",
            reason=reason,
        )
    return row


def held_set_aside(*, actor: User, message: PhoneMessage, reason: str, now: datetime) -> None:
    """Take a held report off the list; it is kept, with the reason."""
    reason = within(need_reason(reason), PhoneMessage, "settle_reason", field="reason")
    with transaction.atomic():
        row = _locked(message)
        row.state, row.settled_at = State.SET_ASIDE, now
        row.settled_by, row.settle_reason = actor, reason
        row.save(update_fields=["state", "settled_at", "settled_by", "settle_reason"])
        audit_write(
            actor=actor,
            action="phone-message.set-aside",
            now=now,
            person=row.link.person if row.link else None,
            target=f"message:{row.pk}",
            reason=reason,
        )
