"""The legal moves of a notice, and the one function that makes them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.conf import settings

from safety.models import Notice, NoticeEvent
from staff.ground.limits import fitting

State = Notice.State

# From a state to those it may move to. claimed → claimed is another worker taking over a lapsed lease;
# waiting → sent is a worker that was slower than its lease but had handed the mail over; sent → failed is a mail that
# came back later; failed → gathered is a mail with others put back by hand. A gathered notice goes in the mail of its
# digest and settles with it; it is gathered before anything was said to a mail server.
LEGAL: dict[str, frozenset[str]] = {
    State.WAITING: frozenset({State.CLAIMED, State.SENT, State.WITHDRAWN, State.GATHERED}),
    State.CLAIMED: frozenset(
        {State.CLAIMED, State.SENT, State.WAITING, State.FAILED, State.WITHDRAWN, State.GATHERED}
    ),
    State.GATHERED: frozenset({State.WAITING, State.SENT, State.FAILED, State.WITHDRAWN}),
    State.WITHDRAWN: frozenset({State.WAITING}),
    State.FAILED: frozenset({State.WAITING, State.GATHERED}),
    State.SENT: frozenset({State.FAILED}),
}

LEASE = timedelta(seconds=settings.NOTICE_LEASE_SECONDS)
# What must be left of the lease at the final dot: the longest wait for the server's answer.
FENCE_MARGIN = timedelta(seconds=settings.SMTP_TIMEOUT_SECONDS)
FIRST_WAIT = timedelta(seconds=settings.NOTICE_RETRY_SECONDS)
LONGEST_WAIT = timedelta(minutes=30)


class IllegalMove(Exception):
    """A programming mistake: names the notice, its state and the state asked for."""


def move(notice: Notice, new: str, *, now: datetime, why: str = "", **changes: Any) -> bool:
    """Move a notice from the state and claim it was read in; False when somebody else moved it first.

    Call inside a transaction: the row and its event are one.
    """
    if new not in LEGAL[notice.state]:
        raise IllegalMove(f"notice {notice.pk} is {notice.state} and can't become {new}")
    old = notice.state
    changes |= {"state": new}
    changed = Notice.objects.filter(pk=notice.pk, state=old, claim_token=notice.claim_token).update(**changes)
    if changed != 1:
        return False
    NoticeEvent.objects.create(notice=notice, at=now, old=old, new=new, why=fitting(why, NoticeEvent, "why"))
    for field, value in changes.items():
        setattr(notice, field, value)
    return True


def wait_before_retry(attempts: int) -> timedelta:
    """30 s, 1 min, 2 min … up to 30 min; it never gives up while the notice is wanted."""
    return min(LONGEST_WAIT, FIRST_WAIT * int(2 ** min(attempts, 10)))
