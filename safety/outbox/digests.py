"""Several notices in one mail: they are gathered into a digest, and settle in the transaction in which it does."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import BooleanField, QuerySet
from django.db.models.expressions import RawSQL

from safety.models import Notice
from safety.outbox.states import State, move
from staff.ground.limits import fitting

# As the partial index has it; see safety.outbox.claims. The table is named for the joins.
_GATHERED = RawSQL("safety_notice.state = 'gathered'", (), output_field=BooleanField())
OPEN = (State.WAITING, State.CLAIMED)


def gathered() -> QuerySet[Notice]:
    return Notice.objects.filter(_GATHERED).order_by("pk")


def members_of(digest: Notice) -> QuerySet[Notice]:
    """What goes in this mail: its members only grow fewer once it was claimed for the first time."""
    return gathered().filter(digest=digest)


def settle_members(digest: Notice, *, now: datetime, why: str = "") -> None:
    """Take the members where their digest has got to: sent, refused or, when it was withdrawn, back in the line.

    Call inside the transaction that settles the digest.
    """
    if not digest.gathers:
        return
    for row in members_of(digest):
        if digest.state == State.WITHDRAWN:
            release(row, now=now, why="its mail with others was withdrawn")
        else:
            move(
                row,
                digest.state,
                now=now,
                why=why,
                settled_at=now,
                last_error=fitting(why, Notice, "last_error"),
            )


def release(member: Notice, *, now: datetime, why: str) -> bool:
    """Let a gathered notice go alone. Call inside a transaction."""
    return move(member, State.WAITING, now=now, why=why, digest=None, next_try_at=now)


def gathered_sweep(now: datetime) -> int:
    """Put back in the line what waits for a mail that is settled; returns how many. Nothing of the program leaves such
    a row, so it may have left already: rather one copy more than one notice less."""
    lost = [row for row in gathered().select_related("digest") if row.digest and row.digest.state not in OPEN]
    for row in lost:
        with transaction.atomic():
            release(row, now=now, why="its mail with others was settled without it")
    return len(lost)
