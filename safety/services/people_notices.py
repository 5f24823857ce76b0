"""People on an outing, told at their own address: that they are off it, that it is called off, its new date.

And the officers, once, of an outing that is called off with people on it. See safety.selectors.outing_news for who
is told of what.
"""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from safety.models import Notice
from safety.rules.follow_up import Audience
from safety.selectors.outing_news import (
    BACK,
    OUTING_MOVED,
    OUTING_OFF,
    ROSTER_OFF,
    by_cancelling,
    cancelled_untold,
    date_at,
    moved_unknown,
    off_untold,
    still_off,
)
from safety.selectors.recipients import Recipient, holders, member
from safety.services.notice_rows import add_notices, bring_in_line, new_notice
from staff.models import Outing, SiteRole, Withdrawal
from staff.services.transactions import retried


@retried
def people_notices_reconcile(*, now: datetime) -> None:
    """Tell whoever wasn't told; a handful of queries, whatever the number of people. Repeating changes nothing."""
    rows = [
        _off(row, reader, now)
        for row in off_untold(now)
        if row.outing.date >= row.outing.site.local_date(now)
        for reader in member(row.person)
    ]
    for outing in cancelled_untold(now):
        rows += [
            _notice(outing, OUTING_OFF, reader, outing.date, now, key=f"outing-off-{outing.pk}:{reader.tag}")
            for reader in holders(outing.site, SiteRole.Role.OFFICER, now)
        ]
    wanted = _moved(now)
    with transaction.atomic():
        add_notices(rows)
        standing = Notice.objects.filter(kind=OUTING_MOVED, outing__date__gte=now.date() - BACK)
        bring_in_line(wanted, {row.key: row for row in standing}, now)


def people_notice_still_true(notice: Notice, now: datetime) -> bool:
    """Somebody may be back on the outing, off it, or it may have been moved once more."""
    if notice.kind == OUTING_MOVED:
        return notice.key in _moved(now, of=notice)
    if notice.withdrawal is not None:
        return still_off(notice.withdrawal)
    return notice.outing is not None and notice.outing.cancelled_at is not None


def _off(row: Withdrawal, reader: Recipient, now: datetime) -> Notice:
    kind = OUTING_OFF if by_cancelling(row) else ROSTER_OFF
    key = f"{kind}-{row.outing_id}:{row.pk}:{reader.tag}"
    return _notice(row.outing, kind, reader, date_at(row), now, key=key, path="/me/", withdrawal=row)


def _moved(now: datetime, of: Notice | None = None) -> dict[str, Notice]:
    found = (
        (news, reader)
        for news in moved_unknown(now, of)
        if news.assignment.outing.date >= news.assignment.outing.site.local_date(now)
        for reader in member(news.assignment.person)
    )
    rows = (
        _notice(
            news.assignment.outing,
            OUTING_MOVED,
            reader,
            news.assignment.outing.date,
            now,
            # What the reader knows and what is so now: another move, or back again, is another notice.
            key=f"outing-moved-{news.move_id}:{news.known}:{reader.mark}",
        )
        for news, reader in found
    )
    return {row.key: row for row in rows}


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
