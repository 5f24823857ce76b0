"""Whom a rule took off a roster, told to the officer and the crew lead.

Not by a cancellation: of that the officers are told once (safety/services/people_notices.py).
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from safety.models import Notice
from safety.selectors.recipients import Recipient, outing_watchers
from safety.services.notice_rows import add_notices, new_notice
from staff.models import Withdrawal

ROSTER_CHANGE = "roster-change"


def withdrawals_untold(now: datetime) -> QuerySet[Withdrawal]:
    """Withdrawals made by rule from outings still ahead, about which nobody has been written to."""
    told = Notice.objects.filter(withdrawal=OuterRef("pk"), kind=ROSTER_CHANGE)
    # A day back: somewhere it is still yesterday by UTC.
    ahead = Withdrawal.objects.filter(by_rule=True, outing__date__gte=now.date() - timedelta(days=1))
    stands = Q(outing__cancelled_at__isnull=True) | ~Q(outing__cancelled_at=F("withdrawn_at"))
    return ahead.filter(~Exists(told), stands).select_related("outing__site__rules")


def roster_notices_add(*, now: datetime) -> None:
    """Tell the officer and the crew lead, at once, about everybody a rule took off a roster."""
    for row in withdrawals_untold(now):
        if row.outing.date < row.outing.site.local_date(now):
            continue
        add_notices([_roster_notice(row, reader, now) for reader in outing_watchers(row.outing, now)])


def _roster_notice(row: Withdrawal, reader: Recipient, now: datetime) -> Notice:
    site = row.outing.site
    return new_notice(
        key=f"withdrawal-{row.pk}:{reader.tag}",
        kind=ROSTER_CHANGE,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        hour=0,
        when_on=row.outing.date,
        reference=f"R{row.pk}",
        path=f"/outings/{row.outing_id}/",
        audience="roster",
        now=now,
        withdrawal=row,
    )
