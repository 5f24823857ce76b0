"""A mail that was refused for good, at once or by coming back: the next contacts are told in the same transaction."""

from __future__ import annotations

import logging
from datetime import datetime

from django.db import transaction

from safety.models import Notice
from safety.outbox.claims import settle
from safety.outbox.states import State, move
from safety.rules.notice_kinds import DIGEST, UNDELIVERED, Level, level_of
from safety.selectors.recipients import Recipient, everybody_of
from safety.selectors.unanswered import readers_at
from safety.services.notice_rows import add_notices, new_notice
from staff.limits import fitting

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
    """Have the next contacts told of a refused notice, or whoever of the office is left; once for each refusal.

    A refused mail of this kind starts no further one: each of them gets it.
    """
    if notice.kind == UNDELIVERED:
        return
    told = _told_of_refusal(notice, now)
    if not told:
        logger.error("Notice %s was refused for good and the site has nobody else to tell.", notice.pk)
    add_notices([_undelivered(notice, reader, level, now) for level, reader in told])


def _told_of_refusal(notice: Notice, now: datetime) -> list[tuple[Level, Recipient]]:
    """The officers; of a member's mail the liaisons too; with no other officer, the further contact and whoever is left."""
    member = level_of(notice.audience) == Level.MEMBER
    found: dict[str, tuple[Level, Recipient]] = {}
    for level in (Level.OFFICER, *((Level.LIAISON,) if member else ())):
        _add_others(found, notice, level, readers_at(notice.site, level, now))
    if not found:
        _add_others(found, notice, Level.FURTHER, readers_at(notice.site, Level.FURTHER, now))
        _add_others(found, notice, Level.OFFICER, everybody_of(notice.site))
    return list(found.values())


def _add_others(
    found: dict[str, tuple[Level, Recipient]], notice: Notice, level: Level, readers: list[Recipient]
) -> None:
    for reader in readers:
        if reader.email.casefold() != notice.email.casefold():
            found.setdefault(reader.email.casefold(), (level, reader))


def _undelivered(notice: Notice, reader: Recipient, level: Level, now: datetime) -> Notice:
    refusals = notice.events.filter(new=State.FAILED).count()
    return new_notice(
        # Refused again after it was sent again, it is told again.
        key=f"undelivered-{notice.pk}:{reader.tag}{f':{refusals}' if refusals > 1 else ''}",
        kind=UNDELIVERED,
        site=notice.site,
        reader=reader,
        send_on=notice.site.local_date(now),
        hour=0,
        when_on=notice.when_on,
        reference=notice.reference,
        # Of several in one mail each is named in the list of what was refused.
        path="/notices/?state=failed" if notice.kind == DIGEST else notice.path,
        audience=level,
        now=now,
        incident=notice.incident,
    )
