"""On an outing: people told its new date, hour or meeting place, or that they are on it again after a mail said off.

See safety.selectors.crew_day.outing_news for who is told of what.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.outing.rows import place_notice
from safety.notices.rows import Scope, by_key, whole
from safety.registry import Counted, Differing, NoticeKind, Origin
from safety.selectors.crew_day.outing_news import BACK, NewsFor, on_unknown
from safety.selectors.notices.recipients import Recipient, member
from staff.models import Assignment


def _wanted(scope: Scope, now: datetime) -> dict[str, Notice]:
    """Somebody may be off the outing, or it may have been moved once more."""
    found = (
        (news, reader)
        for news in on_unknown(now, scope.of)
        if news.assignment.outing.date >= news.assignment.outing.site.local_date(now)
        for reader in member(news.assignment.person)
    )
    return by_key(_row(news, reader, now) for news, reader in found)


def _row(news: NewsFor, reader: Recipient, now: datetime) -> Notice:
    """What the reader knows and what is so now stand in the key: another move, or back again, is another notice."""
    outing = news.assignment.outing
    if news.off is not None:
        # It says the date too, whatever it was when they were told to be off.
        kind, key = ROSTER_AGAIN, f"{ROSTER_AGAIN.name}-{news.off.pk}:{outing.date}:{reader.mark}"
    elif news.known == outing.date and news.changed is not None:
        kind, key = OUTING_CHANGED, f"{OUTING_CHANGED.name}-{outing.pk}:{news.changed.pk}:{reader.mark}"
    else:
        kind, key = OUTING_MOVED, f"{OUTING_MOVED.name}-{news.move_id}:{news.known}:{reader.mark}"
    return place_notice(
        outing, kind, reader, outing.date, now, key=key, says=Notice.Says.ON, known_on=news.known
    )


def _ours() -> QuerySet[Notice]:
    return Notice.objects.filter(says=Notice.Says.ON, outing__isnull=False)


def _standing(_scope: Scope, now: datetime) -> QuerySet[Notice]:
    return _ours().filter(outing__date__gte=now.date() - BACK)


def _differences() -> Iterable[Differing]:
    there = Assignment.objects.filter(outing=OuterRef("outing"), person=OuterRef("person"))
    for notice in _ours().filter(~Exists(there), state=Notice.State.WAITING):
        yield f"notice {notice.pk}", "waiting", "none: the person isn't on the outing"


def _known(notice: Notice, _today: date) -> dict[str, Any]:
    """The date by which its reader knew the outing when it was written; later mails change the answer."""
    return {"known": notice.known_on}


ON = Origin(
    name="notices to people on outings",
    subjects=whole,
    subject_of=Scope,
    wanted=_wanted,
    standing=_standing,
    differences=_differences,
)
OUTING_MOVED = NoticeKind(
    name="outing-moved",
    word=_("an outing is moved to another date"),
    template="outing_moved",
    origin=ON,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
    context=_known,
)
OUTING_CHANGED = NoticeKind(
    name="outing-changed",
    word=_("an outing starts or meets elsewhere"),
    template="outing_changed",
    origin=ON,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
ROSTER_AGAIN = NoticeKind(
    name="roster-on-again",
    word=_("on an outing again"),
    template="roster_on_again",
    origin=ON,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (OUTING_MOVED, OUTING_CHANGED, ROSTER_AGAIN)
