"""A notice nobody has seen in time is told to the next contact: safety never hangs on one mail."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.rows import Told, by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.levels import Level
from safety.selectors.notices.recipients import Recipient
from safety.selectors.notices.unanswered import (
    Unanswered,
    matter_stands,
    next_contacts,
    same_matter,
    time_is_up,
    what_of,
)


def _subjects(now: datetime) -> Iterator[Told[Unanswered]]:
    """Each is passed on once; night hours count."""
    return (Told(each) for each in time_is_up(now) if not each.passed_on)


def _subject_of(notice: Notice) -> Told[Unanswered] | None:
    return None if notice.about is None else Told(Unanswered((notice.about,)), notice)


def _wanted(told: Told[Unanswered], now: datetime) -> dict[str, Notice]:
    """What was written stands until somebody has answered or the matter is settled."""
    each = told.subject
    if not each.stands():
        return {}
    return {told.row.key: told.row} if told.row is not None else by_key(_pass_on(each, now))


def _pass_on(each: Unanswered, now: datetime) -> Iterator[Notice]:
    following = next_contacts(each, now)
    if following is None:
        return
    level, readers = following
    what = what_of(each.first)
    told = [row for row in same_matter(each.first) if what_of(row) == what]
    addresses = {reader.email.casefold() for reader in readers}
    if any(row.acknowledged_at and row.email.casefold() in addresses for row in told):
        # One of them has the same matter in hand since this very day.
        return
    today = each.first.site.local_date(now)
    written_to = {
        row.email.casefold()
        for row in told
        if row.about_id is not None and row.send_on == today and row.state != Notice.State.WITHDRAWN
    }
    for reader in readers:
        if reader.email.casefold() not in written_to:
            yield _row(each.first, reader, level, now)


def _row(origin: Notice, reader: Recipient, level: Level, now: datetime) -> Notice:
    site = origin.site
    return new_notice(
        key=f"unanswered-{origin.pk}:{reader.mark}",
        kind=UNANSWERED.name,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
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


SILENCES = Origin(
    name="notices nobody has seen",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=None,
)
UNANSWERED = NoticeKind(
    name="unanswered",
    word=_("nobody has said to have seen a notice"),
    template="unanswered",
    origin=SILENCES,
    asks=matter_stands,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (UNANSWERED,)
