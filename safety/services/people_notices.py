"""People on an outing, told at their own address: that they are off it, that it is called off, its new date,
hour or meeting place, that they are on again.

And the officers, once, of an outing that is called off with people on it. See safety.selectors.outing_news for who
is told of what.
"""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from safety.models import Notice
from safety.rules.follow_up import Audience
from safety.selectors.outing_known import (
    ON_KINDS,
    OUTING_CHANGED,
    OUTING_MOVED,
    OUTING_OFF,
    ROSTER_AGAIN,
    ROSTER_OFF,
)
from safety.selectors.outing_news import (
    BACK,
    NewsFor,
    OffFor,
    by_cancelling,
    cancelled_untold,
    off_untold,
    on_unknown,
    still_off,
)
from safety.selectors.recipients import Recipient, holders, member
from safety.services.notice_rows import add_notices, bring_in_line, new_notice
from staff.models import Outing, SiteRole
from staff.services.transactions import retried


@retried
def people_notices_reconcile(*, now: datetime) -> None:
    """Tell whoever wasn't told; a handful of queries, whatever the number of people. Repeating changes nothing."""
    rows = [
        _off(off, reader, now)
        for off in off_untold(now)
        if off.withdrawal.outing.date >= off.withdrawal.outing.site.local_date(now)
        for reader in member(off.withdrawal.person)
    ]
    for outing in cancelled_untold(now):
        rows += [
            _notice(outing, OUTING_OFF, reader, outing.date, now, key=f"outing-off-{outing.pk}:{reader.tag}")
            for reader in holders(outing.site, SiteRole.Role.OFFICER, now)
        ]
    wanted = _on(now)
    with transaction.atomic():
        add_notices(rows)
        standing = Notice.objects.filter(kind__in=ON_KINDS, outing__date__gte=now.date() - BACK)
        bring_in_line(wanted, {row.key: row for row in standing}, now)


def people_notice_still_true(notice: Notice, now: datetime) -> bool:
    """Somebody may be back on the outing, off it, or it may have been moved once more."""
    if notice.kind in ON_KINDS:
        return notice.key in _on(now, of=notice)
    if notice.withdrawal is not None:
        return still_off(notice.withdrawal)
    return notice.outing is not None and notice.outing.cancelled_at is not None


def _off(off: OffFor, reader: Recipient, now: datetime) -> Notice:
    row = off.withdrawal
    kind = OUTING_OFF if by_cancelling(row) else ROSTER_OFF
    key = f"{kind}-{row.outing_id}:{row.pk}:{reader.tag}"
    return _notice(row.outing, kind, reader, off.known, now, key=key, path="/me/", withdrawal=row)


def _on(now: datetime, of: Notice | None = None) -> dict[str, Notice]:
    found = (
        (news, reader)
        for news in on_unknown(now, of)
        if news.assignment.outing.date >= news.assignment.outing.site.local_date(now)
        for reader in member(news.assignment.person)
    )
    rows = (_of_news(news, reader, now) for news, reader in found)
    return {row.key: row for row in rows}


def _of_news(news: NewsFor, reader: Recipient, now: datetime) -> Notice:
    """What the reader knows and what is so now stand in the key: another move, or back again, is another notice."""
    outing = news.assignment.outing
    if news.off is not None:
        # It says the date too, whatever it was when they were told to be off.
        kind, key = ROSTER_AGAIN, f"{ROSTER_AGAIN}-{news.off.pk}:{outing.date}:{reader.mark}"
    elif news.known == outing.date and news.changed is not None:
        kind, key = OUTING_CHANGED, f"{OUTING_CHANGED}-{outing.pk}:{news.changed.pk}:{reader.mark}"
    else:
        kind, key = OUTING_MOVED, f"{OUTING_MOVED}-{news.move_id}:{news.known}:{reader.mark}"
    return _notice(outing, kind, reader, outing.date, now, key=key)


def _notice(
    outing: Outing, kind: str, reader: Recipient, on: date, now: datetime, *, key: str, **fields: object
) -> Notice:
    site = outing.site
    values: dict[str, object] = {"path": f"/outings/{outing.pk}/", **fields}
    return new_notice(
        key=key,
        kind=kind,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        hour=0,
        when_on=on,
        reference=f"F{outing.pk}",
        audience=Audience.MEMBER if reader.person else Audience.OFFICER,
        now=now,
        outing=outing,
        **values,
    )
