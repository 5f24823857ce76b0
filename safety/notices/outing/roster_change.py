"""Whom a rule took off a roster, told to the officer and the crew lead.

Not by a cancellation: of that the officers are told once (safety/notices/outing/off.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.rows import Told, by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, outing_watchers
from staff.models import Withdrawal


def withdrawals_untold(now: datetime) -> QuerySet[Withdrawal]:
    """Withdrawals made by rule from outings still ahead, about which nobody has been written to."""
    told = Notice.objects.filter(withdrawal=OuterRef("pk"), kind=ROSTER_CHANGE.name)
    # A day back: somewhere it is still yesterday by UTC.
    ahead = Withdrawal.objects.filter(by_rule=True, outing__date__gte=now.date() - timedelta(days=1))
    stands = Q(outing__cancelled_at__isnull=True) | ~Q(outing__cancelled_at=F("withdrawn_at"))
    return ahead.filter(~Exists(told), stands).select_related("outing__site__rules")


def _subjects(now: datetime) -> Iterator[Told[Withdrawal | None]]:
    for row in withdrawals_untold(now):
        if row.outing.date >= row.outing.site.local_date(now):
            yield Told(row)


def _wanted(told: Told[Withdrawal | None], now: datetime) -> dict[str, Notice]:
    """Once written it stands: that somebody was taken off stays so, whoever is on the crew by now."""
    if told.row is not None:
        return {told.row.key: told.row}
    off = told.subject
    return by_key(_row(off, reader, now) for reader in outing_watchers(off.outing, now)) if off else {}


def _row(row: Withdrawal, reader: Recipient, now: datetime) -> Notice:
    site = row.outing.site
    return new_notice(
        key=f"withdrawal-{row.pk}:{reader.tag}",
        kind=ROSTER_CHANGE.name,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        hour=0,
        when_on=row.outing.date,
        reference=reference(Letter.ROSTER, row.pk),
        path=f"/outings/{row.outing_id}/",
        audience="roster",
        now=now,
        withdrawal=row,
    )


WITHDRAWALS = Origin(
    name="notices of roster changes",
    subjects=_subjects,
    subject_of=lambda notice: Told(notice.withdrawal, notice),
    wanted=_wanted,
    standing=None,
)
ROSTER_CHANGE = NoticeKind(
    name="roster-change",
    word=_("somebody was taken off a roster"),
    template="roster_change",
    origin=WITHDRAWALS,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (ROSTER_CHANGE,)
