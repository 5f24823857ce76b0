"""A mail that was refused for good, at once or by coming back: the next contacts are told in the same transaction."""

from __future__ import annotations

import logging
from datetime import datetime

from django.db import transaction

from safety.models import Notice
from safety.notices.mail.undelivered import REFUSALS, UNDELIVERED
from safety.notices.rows import Told
from safety.outbox.claims import settle
from safety.outbox.states import State, move
from safety.services.notices.notices import notices_bring
from staff.ground.limits import fitting

logger = logging.getLogger(__name__)


def notice_fail(*, notice: Notice, why: str, now: datetime) -> bool:
    """End a claim as refused for good and, in the same transaction, have the next contacts told.

    False when the claim was lost.
    """
    with transaction.atomic():
        if not settle(notice, State.FAILED, now=now, why=why):
            return False
        tell_undelivered(notice=notice, now=now)
    return True


def notice_bounced(*, notice: Notice, why: str, now: datetime) -> bool:
    """A mail that had left came back: refused for good after all, and told on like any other. False when it moved on."""
    with transaction.atomic():
        if not move(
            notice,
            State.FAILED,
            now=now,
            why=why,
            settled_at=now,
            last_error=fitting(why, Notice, "last_error"),
        ):
            return False
        for member in Notice.objects.filter(digest=notice, state=State.SENT):
            move(
                member,
                State.FAILED,
                now=now,
                why=why,
                settled_at=now,
                last_error=fitting(why, Notice, "last_error"),
            )
        tell_undelivered(notice=notice, now=now)
    return True


def tell_undelivered(*, notice: Notice, now: datetime) -> None:
    """Have the next contacts told of a refused notice, or whoever of the office is left; once for each refusal."""
    if notice.kind == UNDELIVERED.name:
        return
    if not notices_bring(origin=REFUSALS, subject=Told(notice), now=now):
        logger.error("Notice %s was refused for good and the site has nobody else to tell.", notice.pk)
