"""Emptying the outbox: claim, check again, send, settle."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime

from safety.emails.build import build_mail
from safety.errors import FenceDown, PermanentFailure, TemporaryFailure
from safety.models import Notice
from safety.outbox.claims import claim_next, put_back, settle, still_ours
from safety.outbox.states import State
from safety.outbox.transport import deliver
from safety.services.notices import notices_reconcile, still_true
from safety.services.plan import plans_catch_up

logger = logging.getLogger(__name__)
Clock = Callable[[], datetime]


def send_due(*, clock: Clock, at_most: int = 500) -> int:
    """Send what is due, one mail at a time; returns how many were handed over. Stops at `at_most` claims."""
    sent = 0
    for _turn in range(at_most):
        notice = claim_next(clock())
        if notice is None:
            break
        sent += send_one(notice, clock=clock)
    return sent


def send_one(notice: Notice, *, clock: Clock) -> bool:
    """Take one claimed notice to its end; True when the mail was handed over."""
    if not still_true(notice, clock()):
        settle(notice, State.WITHDRAWN, now=clock(), why="no longer needed")
        return False
    try:
        deliver(
            build_mail(notice, notice.site.local_date(clock())), fence=lambda: still_ours(notice, clock())
        )
    except FenceDown:
        logger.info("Notice %s: the claim went to another worker; nothing was sent here.", notice.pk)
        return False
    except PermanentFailure as error:
        settle(notice, State.FAILED, now=clock(), why=str(error))
        logger.warning("Notice %s was refused for good: %s", notice.pk, error)
        return False
    except TemporaryFailure as error:
        put_back(notice, now=clock(), why=str(error))
        return False
    except Exception as error:
        # One bad row never stops the line: it waits its turn again and shows why.
        logger.exception("Notice %s could not be built or sent", notice.pk)
        put_back(notice, now=clock(), why=f"{type(error).__name__}: {error}")
        return False
    settle(notice, State.SENT, now=clock())
    return True


def tick(*, clock: Clock) -> int:
    """Everything the table asks for now: plans that are behind, notices that are missing, mail that is due."""
    plans_catch_up(now=clock())
    notices_reconcile(now=clock())
    return send_due(clock=clock)
