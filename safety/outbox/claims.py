"""Taking a notice to send: a conditional update, committed before any network is touched."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import connection, transaction
from django.db.models import Q, QuerySet

from safety.models import Notice
from safety.outbox.states import LEASE, State, move, wait_before_retry


def open_and_due(now: datetime) -> QuerySet[Notice]:
    """Waiting rows whose time has come, and claimed ones whose lease has lapsed (their worker died or froze)."""
    return Notice.objects.filter(
        Q(state=State.WAITING) | Q(state=State.CLAIMED, lease_until__lte=now),
        state__in=[State.WAITING, State.CLAIMED],
        next_try_at__lte=now,
    ).order_by("next_try_at", "pk")


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
    """The fence: whether this claim stands, read just before the final dot."""
    return Notice.objects.filter(
        pk=notice.pk, state=State.CLAIMED, claim_token=notice.claim_token, lease_until__gt=now
    ).exists()


def settle(notice: Notice, new: str, *, now: datetime, why: str = "") -> bool:
    """End a claim as sent, failed or withdrawn; False when the claim was lost meanwhile."""
    with transaction.atomic():
        return move(
            notice,
            new,
            now=now,
            why=why,
            claim_token=None,
            lease_until=None,
            settled_at=now,
            last_error=why[:500],
        )


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
            last_error=why[:500],
        )
