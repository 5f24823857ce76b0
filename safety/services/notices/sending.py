"""Emptying the outbox: claim, check again, send, settle."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import datetime

from django.db import InterfaceError, OperationalError, connection

from safety.emails.build import build_mail
from safety.errors import FenceDown, PermanentFailure, TemporaryFailure
from safety.models import Notice
from safety.outbox.claims import claim_next, put_back, settle, settle_sent, still_ours
from safety.outbox.digests import gathered_sweep
from safety.outbox.states import State
from safety.outbox.transport import deliver
from safety.services.notices.digests import digest_gather
from safety.services.notices.undelivered import notice_fail
from safety.services.notices.wanted import still_wanted
from safety.services.upkeep.heartbeats import heartbeat_note

logger = logging.getLogger(__name__)
Clock = Callable[[], datetime]

# Seconds between the tries to note a mail that has left: a database that restarts is back within them.
SETTLE_PAUSES = (0.5, 1.0, 2.0, 4.0, 8.0)


def send_due(*, clock: Clock, at_most: int = 500, beat: str = "") -> int:
    """Send what is due, one mail at a time; returns how many were handed over. Stops at `at_most` claims.

    The service `beat` gives a sign of life at each, for a slow mail server makes a tick long.
    """
    sent = 0
    gathered_sweep(clock())
    for _turn in range(at_most):
        if beat:
            heartbeat_note(name=beat, now=clock())
        notice = claim_next(clock())
        if notice is None:
            break
        if gathered(notice, clock()):
            continue
        sent += send_one(notice, clock=clock)
    return sent


def gathered(notice: Notice, now: datetime) -> bool:
    """Whether this claimed notice goes in a mail with others, which waits its turn. In doubt it goes alone."""
    try:
        return digest_gather(notice=notice, now=now)
    except Exception:
        logger.exception("Notice %s can't be put into one mail with others", notice.pk)
        return False


def send_one(notice: Notice, *, clock: Clock) -> bool:
    """Take one claimed notice to its end; True when the mail was handed over."""
    try:
        if not still_wanted(notice, clock()):
            settle(notice, State.WITHDRAWN, now=clock(), why="no longer needed")
            return False
        mail = build_mail(notice, notice.site.local_date(clock()))
        deliver(mail, fence=lambda: still_ours(notice, clock()))
    except FenceDown:
        logger.info("Notice %s: the claim ran out or went to another worker; not sent here.", notice.pk)
        put_back(notice, now=clock(), why="the mail server took longer than the claim lasts")
        return False
    except PermanentFailure as error:
        notice_fail(notice=notice, why=str(error), now=clock())
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
    _note_sent(notice, clock)
    return True


def _note_sent(notice: Notice, clock: Clock) -> None:
    """The mail has left and the row doesn't say so yet: what the database can't take now, it is offered again."""
    for pause in (*SETTLE_PAUSES, None):
        try:
            if not settle_sent(notice, now=clock()):
                logger.warning("Notice %s left after its claim was lost: perhaps a second copy.", notice.pk)
            return
        except (OperationalError, InterfaceError):
            if pause is None:
                raise
            logger.warning(
                "Notice %s has left but can't be noted yet; trying again in %s s.", notice.pk, pause
            )
            if not connection.in_atomic_block:
                connection.close_if_unusable_or_obsolete()
            time.sleep(pause)
