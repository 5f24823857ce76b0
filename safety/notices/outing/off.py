"""Off an outing: people told at their own address that they are off it or that it is called off.

And the officers, once, of an outing that is called off with people on it. See safety.selectors.crew_day.outing_news for who
is told of what.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.outing.rows import place_notice
from safety.notices.rows import Told, by_key
from safety.registry import Counted, NoticeKind, Origin
from safety.selectors.crew_day.outing_news import (
    OffFor,
    by_cancelling,
    cancelled_untold,
    off_untold,
    still_off,
)
from safety.selectors.notices.recipients import Recipient, holders, member
from staff.models import Outing, SiteRole, Withdrawal

OffTold = Told[OffFor | Withdrawal | Outing]


def _subjects(now: datetime) -> Iterator[OffTold]:
    """Whoever wasn't told; a handful of queries, whatever the number of people."""
    for off in off_untold(now):
        if off.withdrawal.outing.date >= off.withdrawal.outing.site.local_date(now):
            yield Told(off)
    yield from (Told(outing) for outing in cancelled_untold(now))


def _subject_of(notice: Notice) -> OffTold | None:
    about = notice.withdrawal or notice.outing
    return None if about is None else Told(about, notice)


def _wanted(told: OffTold, now: datetime) -> dict[str, Notice]:
    """What was written stands unless somebody is back on the outing, or it isn't called off."""
    about, row = told.subject, told.row
    if row is not None:
        holds = about.cancelled_at is not None if isinstance(about, Outing) else still_off(_withdrawal(about))
        return {row.key: row} if holds else {}
    if isinstance(about, OffFor):
        return by_key(_off(about, reader, now) for reader in member(about.withdrawal.person))
    if isinstance(about, Outing):
        readers = holders(about.site, SiteRole.Role.OFFICER, now)
        return by_key(_called_off(about, reader, now) for reader in readers)
    return {}


def _withdrawal(about: OffFor | Withdrawal) -> Withdrawal:
    return about.withdrawal if isinstance(about, OffFor) else about


def _off(off: OffFor, reader: Recipient, now: datetime) -> Notice:
    row = off.withdrawal
    kind = OUTING_OFF if by_cancelling(row) else ROSTER_OFF
    return place_notice(
        row.outing,
        kind,
        reader,
        off.known,
        now,
        key=f"{kind.name}-{row.outing_id}:{row.pk}:{reader.tag}",
        path="/me/",
        says=Notice.Says.OFF,
        known_on=off.known,
        withdrawal=row,
    )


def _called_off(outing: Outing, reader: Recipient, now: datetime) -> Notice:
    key = f"{OUTING_OFF.name}-{outing.pk}:{reader.tag}"
    return place_notice(outing, OUTING_OFF, reader, outing.date, now, key=key, says=Notice.Says.OFF)


OFF = Origin(
    name="notices to people off outings",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=None,
)
ROSTER_OFF = NoticeKind(
    name="roster-off",
    word=_("no longer on an outing"),
    template="roster_off",
    origin=OFF,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
OUTING_OFF = NoticeKind(
    name="outing-off",
    word=_("an outing is cancelled"),
    template="outing_off",
    origin=OFF,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (ROSTER_OFF, OUTING_OFF)
