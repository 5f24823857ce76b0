"""Sending a refused notice again, once what was wrong with it has been put right."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict
from safety.models import Notice
from safety.outbox.states import State, move
from safety.registry import find_kind
from safety.services.notices.notices import still_true
from staff.bell import ring
from staff.ground.transactions import retried
from staff.models import User
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason


@retried
def notice_send_again(*, actor: User, notice: Notice, reason: str, now: datetime) -> None:
    """Put a refused notice back in the queue, to the address on record now, and say why.

    Refused for one that isn't refused, and for one nobody needs any more. Most notices name the address in their key:
    once it is corrected, they have been written anew and the old one is no longer true.
    """
    reason = need_reason(reason)
    with transaction.atomic():
        locked = (
            Notice.objects.select_for_update(of=("self",), no_key=True)
            .select_related("site__rules", "user", "person__user", "incident", "course", "session")
            .get(pk=notice.pk)
        )
        if locked.state != State.FAILED:
            message = _("This notice is “%(state)s”: only one that was refused for good is sent again.")
            raise Conflict(message % {"state": locked.get_state_display()}, code="notice-not-refused")
        if find_kind(locked.kind) is None:
            message = _("This program doesn't know what the notice is about, so it sends none.")
            raise Conflict(message, code="notice-kind-unknown")
        members = _members(locked, now)
        if not (members if locked.gathers else still_true(locked, now)):
            message = _("Nobody needs this mail any more, or it was written anew to a corrected address.")
            raise Conflict(message, code="notice-not-needed")
        old, email = locked.email, _address(locked)
        why = f"sent again by hand: {reason}"
        if not move(locked, State.WAITING, now=now, why=why, email=email, next_try_at=now, settled_at=None):
            raise Conflict(_("The notice was changed at this moment; look again."), code="notice-moved")
        for row in members:
            move(row, State.GATHERED, now=now, why=why, settled_at=None)
        audit_write(
            actor=actor,
            action="notice.sent-again",
            now=now,
            site=locked.site,
            person=locked.person,
            target=str(locked.pk),
            reason=reason,
            old=old,
            new=email,
        )
        ring("safety.tick")


def _members(digest: Notice, now: datetime) -> list[Notice]:
    """What was refused with a mail for several and is needed still."""
    rows = Notice.objects.filter(digest=digest, state=State.FAILED).order_by("pk")
    return [row for row in rows.select_related("site__rules", "course", "incident") if still_true(row, now)]


def _address(notice: Notice) -> str:
    """Where the reader is written to now; the notice's own address where the record has none."""
    person = notice.person
    account = notice.user or (person.user if person else None)
    return (person.email if person else "") or (account.email if account else "") or notice.email
