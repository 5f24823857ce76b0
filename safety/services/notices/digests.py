"""One mail where one address would get more than three at one hour."""

from __future__ import annotations

import hashlib
import logging
import uuid
from collections.abc import Callable
from copy import copy
from datetime import UTC, datetime
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet

from safety.models import Notice
from safety.notices.mail.digest import DIGEST
from safety.outbox.digests import members_of, release
from safety.outbox.states import State, move
from safety.registry import kind_of, sharing
from safety.rules.notices.references import Letter, reference
from staff.ground.transactions import retried

logger = logging.getLogger(__name__)
# More mails than this to one address at one hour go in one. Common practice, no source.
MOST_ALONE = 3
UNSENT = (State.WAITING, State.CLAIMED, State.GATHERED)


@retried
def digest_gather(*, notice: Notice, now: datetime) -> bool:
    """Put a notice just claimed for the first time into a mail with others; False when it goes alone.

    Nothing was said to a mail server about it yet, nor about those that are gathered with it: what was tried once may
    have left and keeps the Message-ID it left with. A digest is joined only until it is first claimed.
    """
    if not kind_of(notice).may_share or notice.attempts != 1:
        return False
    with transaction.atomic():
        digest = _digest_for(notice, now)
        if digest is None:
            return False
        # A copy, for this may be undone and tried again. A claim lost meanwhile leaves the row to whoever took it.
        move(
            copy(notice),
            State.GATHERED,
            now=now,
            why="goes in one mail with others",
            claim_token=None,
            lease_until=None,
            attempts=0,
            digest=digest,
        )
        rest = _at_the_same_hour(notice).filter(state=State.WAITING, attempts=0, next_try_at__lte=now)
        for row in rest.order_by("pk"):
            move(row, State.GATHERED, now=now, why="goes in one mail with others", digest=digest)
    return True


def _at_the_same_hour(notice: Notice) -> QuerySet[Notice]:
    return Notice.objects.filter(email=notice.email, due_at=notice.due_at, kind__in=sharing())


def _digest_for(notice: Notice, now: datetime) -> Notice | None:
    """The digest of this address and hour, locked, when there is one to join or enough to make one."""
    made = _digest(notice, now)
    standing = Notice.objects.filter(key=made.key)
    if not standing.exists():
        if _at_the_same_hour(notice).filter(state__in=UNSENT).count() <= MOST_ALONE:
            return None
        # The unique key makes two workers at once harmless.
        Notice.objects.bulk_create([made], ignore_conflicts=True)
    digest = standing.select_for_update(no_key=True).get()
    return digest if digest.state == State.WAITING and digest.attempts == 0 else None


def _digest(notice: Notice, now: datetime) -> Notice:
    due = notice.due_at.astimezone(UTC)
    address = hashlib.sha256(notice.email.encode()).hexdigest()[:24]
    return Notice(
        key=f"digest:{due:%Y%m%dT%H%M%S}:{address}",
        kind=DIGEST.name,
        gathers=True,
        site=notice.site,
        reference=reference(Letter.GATHERED, f"{due:%y%m%d%H}"),
        path="/",
        audience=notice.audience,
        user=notice.user,
        person=notice.person,
        email=notice.email,
        language=notice.language,
        send_on=notice.send_on,
        send_hour=notice.send_hour,
        zone=notice.zone,
        when_on=notice.send_on,
        due_at=notice.due_at,
        next_try_at=notice.due_at,
        message_id=f"<{uuid.uuid4()}@{urlsplit(settings.PUBLIC_URL).hostname}>",
        created_at=now,
    )


def digest_check(*, digest: Notice, wanted: Callable[[Notice], bool], now: datetime) -> bool:
    """Ask of each member whether it is still wanted and take out what isn't; False when nothing is left to send.

    One that can't be asked about goes alone and never holds the others up.
    """
    for row in members_of(digest).select_related("site__rules", "course", "incident"):
        try:
            holds = wanted(row)
        except Exception:
            logger.exception("Notice %s can't be checked; it leaves its mail with others", row.pk)
            with transaction.atomic():
                release(row, now=now, why="could not be checked with the others")
            continue
        if not holds:
            with transaction.atomic():
                move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)
    return members_of(digest).exists()
