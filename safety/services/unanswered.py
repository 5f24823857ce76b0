"""A notice nobody has seen in time is told to the next contact: safety never hangs on one mail."""

from __future__ import annotations

import logging
from datetime import datetime

from safety.models import Notice
from safety.outbox.states import State
from safety.rules.notice_kinds import UNANSWERED, Level
from safety.selectors.matters import matter_stands, root_of
from safety.selectors.recipients import Recipient
from safety.selectors.unanswered import Unanswered, next_contacts, same_matter, seen_by_any, time_is_up
from safety.services.notice_rows import add_notices, new_notice

logger = logging.getLogger(__name__)


def unanswered_reconcile(*, now: datetime) -> None:
    """The sweep. Each is passed on once; night hours count. One that can't be never stops the others."""
    for each in time_is_up(now):
        try:
            if not each.passed_on and each.stands():
                _pass_on(each, now)
        except Exception:
            logger.exception("Notice %s that nobody has seen can't be passed on", each.first.pk)


def unanswered_still_true(notice: Notice) -> bool:
    return notice.about is not None and not seen_by_any(notice.about) and matter_stands(notice.about)


def _pass_on(each: Unanswered, now: datetime) -> None:
    following = next_contacts(each, now)
    if following is None:
        return
    level, readers = following
    kind = root_of(each.first).kind
    told = [row for row in same_matter(each.first) if root_of(row).kind == kind]
    addresses = {reader.email.casefold() for reader in readers}
    if any(row.acknowledged_at and row.email.casefold() in addresses for row in told):
        # One of them has the same matter in hand since this very day.
        return
    today = each.first.site.local_date(now)
    written_to = {
        row.email.casefold()
        for row in told
        if row.kind == UNANSWERED and row.send_on == today and row.state != State.WITHDRAWN
    }
    add_notices(
        [
            _notice(each.first, reader, level, now)
            for reader in readers
            if reader.email.casefold() not in written_to
        ]
    )


def _notice(origin: Notice, reader: Recipient, level: Level, now: datetime) -> Notice:
    site = origin.site
    return new_notice(
        key=f"unanswered-{origin.pk}:{reader.mark}",
        kind=UNANSWERED,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        # The first hour of that date has passed: it is due as soon as it is written.
        hour=0,
        when_on=origin.when_on,
        reference=origin.reference,
        path=origin.path,
        audience=level,
        now=now,
        incident=origin.incident,
        course=origin.course,
        step=origin.step,
        about=origin,
    )
