"""Outings of which owners and neighbours weren't told: to the officers on the day it is due, and the day after."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q, QuerySet

from safety.models import Notice
from safety.outbox.states import State
from safety.rules.follow_up import Audience
from safety.selectors.recipients import holders
from safety.services.notice_rows import bring_in_line, new_notice
from staff.models import Outing, SiteRole
from staff.rules.community import Reminder, reminders
from staff.selectors.community import dated_at, standing_of, with_community
from staff.services.transactions import retried

KINDS = {Reminder.DUE: "community-due", Reminder.LATE: "community-late"}
COMMUNITY_KINDS = frozenset(KINDS.values())
# No site asks for more days ahead (SiteRules.community_days); a day more, for clocks differ.
AHEAD, BACK = timedelta(days=32), timedelta(days=1)


@retried
def community_notices_reconcile(*, now: datetime) -> None:
    """Make these notices what the outings ask for at `now`: nothing is left waiting for an outing that was
    cancelled, moved or told of. Repeating changes nothing.

    A handful of queries, whatever the number of outings.
    """
    ahead = Outing.objects.filter(date__gte=now.date() - BACK, date__lte=now.date() + AHEAD)
    wanted = _wanted(ahead, now)
    with transaction.atomic():
        ours = Notice.objects.filter(kind__in=COMMUNITY_KINDS)
        standing = ours.filter(Q(state=State.WAITING) | Q(outing__date__gte=now.date() - BACK))
        bring_in_line(wanted, {row.key: row for row in standing}, now)


def community_notice_still_true(notice: Notice, now: datetime) -> bool:
    return notice.key in _wanted(Outing.objects.filter(notices=notice.pk), now)


def _wanted(outings: QuerySet[Outing], now: datetime) -> dict[str, Notice]:
    rows = with_community(outings.filter(cancelled_at__isnull=True)).order_by("date", "pk")
    return {row.key: row for outing in rows for row in _of_outing(outing, now)}


def _of_outing(outing: Outing, now: datetime) -> Iterator[Notice]:
    site = outing.site
    today = site.local_date(now)
    if standing_of(outing, today).is_told:
        return
    wanted = reminders(
        outing_on=outing.date,
        days_before=site.rules.community_days,
        dated_on=site.local_date(dated_at(outing)),
        today=today,
    )
    if not wanted:
        return
    readers = holders(site, SiteRole.Role.OFFICER, now)
    for stage, send_on in wanted:
        for reader in readers:
            yield new_notice(
                key=f"community-{outing.pk}:{outing.date}:{stage}:{send_on}:{reader.mark}",
                kind=KINDS[stage],
                site=site,
                reader=reader,
                send_on=send_on,
                when_on=outing.date,
                reference=f"F{outing.pk}",
                path=f"/outings/{outing.pk}/",
                audience=Audience.OFFICER,
                now=now,
                outing=outing,
            )
