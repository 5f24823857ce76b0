"""Taking a notice to send: a conditional update, committed before any network is touched."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import connection, transaction
from django.db.models import BooleanField, Q, QuerySet
from django.db.models.expressions import RawSQL

from safety.models import Notice, NoticeEvent
from safety.outbox.digests import settle_members
from safety.outbox.states import FENCE_MARGIN, LEASE, State, move, wait_before_retry
from staff.ground.limits import fitting

# Written out as the partial index has it: SQLite can't tell from bound parameters that the index applies
# and would read every notice ever sent at each claim.
_OPEN = RawSQL("state IN ('waiting', 'claimed')", (), output_field=BooleanField())


def open_and_due(now: datetime) -> QuerySet[Notice]:
    """Waiting rows whose time has come, and claimed ones whose lease has lapsed (their worker died or froze)."""
    return (
        Notice.objects.filter(_OPEN, next_try_at__lte=now)
        .filter(Q(state=State.WAITING) | Q(lease_until__lte=now))
        .order_by("next_try_at", "pk")
    )


def claim_next(now: datetime) -> Notice | None:
    """Claim one notice for `LEASE`, or None when nothing is due."""
    with transaction.atomic():
        due = open_and_due(now)
        if connection.features.has_select_for_update_skip_locked:
            due = due.select_for_update(skip_locked=True)
        notice = due.first()
        if notice is None:
            return None
        taken = move(
            notice,
            State.CLAIMED,
            now=now,
            why="lease lapsed, taken over" if notice.state == State.CLAIMED else "",
            claim_token=uuid.uuid4(),
            lease_until=now + LEASE,
            attempts=notice.attempts + 1,
        )
        return notice if taken else None


def still_ours(notice: Notice, now: datetime) -> bool:
    """The fence, read just before the final dot: whether this claim stands, and will while the server answers."""
    return Notice.objects.filter(
        pk=notice.pk,
        state=State.CLAIMED,
        claim_token=notice.claim_token,
        lease_until__gt=now + FENCE_MARGIN,
    ).exists()


def settle(notice: Notice, new: str, *, now: datetime, why: str = "") -> bool:
    """End a claim as sent, failed or withdrawn, and what goes in that mail with it; False when the claim was lost
    meanwhile."""
    with transaction.atomic():
        ended = move(
            notice,
            new,
            now=now,
            why=why,
            claim_token=None,
            lease_until=None,
            settled_at=now,
            last_error=fitting(why, Notice, "last_error"),
        )
        if ended:
            settle_members(notice, now=now, why=why)
        return ended


def settle_sent(notice: Notice, *, now: datetime) -> bool:
    """Note that the server took the mail, whoever holds the claim by now; False when ours was lost.

    A mail that left has left. If another worker took the claim over but hasn't passed its fence, this stops
    it; if it sent too, a second event `sent` on the row shows the extra copy (of the same Message-ID).
    """
    if settle(notice, State.SENT, now=now):
        return True
    why = "handed over after the claim was lost; a second copy may have left"
    with transaction.atomic():
        row = Notice.objects.select_for_update(no_key=True).get(pk=notice.pk)
        if row.state in (State.WAITING, State.CLAIMED):
            move(row, State.SENT, now=now, why=why, claim_token=None, lease_until=None, settled_at=now)
            settle_members(row, now=now, why=why)
        else:
            NoticeEvent.objects.create(notice=row, at=now, old=row.state, new=State.SENT, why=why)
    return False


def put_back(notice: Notice, *, now: datetime, why: str) -> bool:
    """Give a claim back after a temporary failure, to be tried again after a growing wait."""
    with transaction.atomic():
        return move(
            notice,
            State.WAITING,
            now=now,
            why=why,
            claim_token=None,
            lease_until=None,
            next_try_at=now + wait_before_retry(notice.attempts - 1),
            last_error=fitting(why, Notice, "last_error"),
        )


def retime(notice: Notice, *, send_hour: int, zone: str, due_at: datetime, next_try_at: datetime) -> bool:
    """Move a waiting notice to another instant; a wait after a failure goes on. False when it waits no more."""
    waiting = Notice.objects.filter(pk=notice.pk, state=State.WAITING)
    changed = waiting.update(send_hour=send_hour, zone=zone, due_at=due_at)
    waiting.filter(attempts=0).update(next_try_at=next_try_at)
    return changed == 1
