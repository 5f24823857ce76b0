"""The notice of a crew that left without something: to the officers, at once."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from django.db import transaction

from safety.models import Departure, Notice
from safety.rules.notice_kinds import LEFT_WITHOUT
from safety.selectors.outing_day import absent_of, departure_of, missing_of
from safety.selectors.recipients import Recipient, holders
from safety.services.notice_rows import bring_in_line, bring_up, new_notice
from staff.bell import ring
from staff.models import SiteRole

logger = logging.getLogger(__name__)

# Readers who join later learn of it from the outing's page; a restored database writes nothing about last week.
FRESH = timedelta(days=1)


def departure_notices_add(*, departure: Departure, now: datetime) -> None:
    """Write who is to be told, in the transaction that recorded it, and ring for a worker."""
    if _bring_up(departure, now):
        ring("safety.tick")


def departure_notices_withdraw(*, departure: Departure, now: datetime) -> None:
    """What hasn't left yet about a departure that was voided; call in the transaction that voids it."""
    standing = Notice.objects.filter(kind=LEFT_WITHOUT, key__startswith=f"left-{departure.pk}:")
    bring_in_line({}, {row.key: row for row in standing}, now)


def departure_notices_reconcile(*, now: datetime) -> None:
    """The sweep: readers an absence or a new address has put in the place of others. One bad row never stops it."""
    fresh = Departure.objects.filter(recorded_at__gt=now - FRESH).exclude(missing_reason="")
    for departure in fresh.select_related("crew__outing__site__rules").prefetch_related("people__person"):
        try:
            _bring_up(departure, now)
        except Exception:
            logger.exception("Departure %s can't be told", departure.pk)


def left_without_still_true(notice: Notice, now: datetime) -> bool:
    """A departure that was voided meanwhile needs nobody."""
    if notice.outing is None:
        return False
    found = (departure_of(crew) for crew in notice.outing.crews.all())
    return any(notice.key in _wanted(departure, now) for departure in found if departure is not None)


def _bring_up(departure: Departure, now: datetime) -> bool:
    """True when somebody is to be told."""
    wanted = _wanted(departure, now)
    with transaction.atomic():
        standing = {row.key: row for row in Notice.objects.filter(key__in=wanted)}
        bring_up(wanted, standing, now)
    return bool(wanted)


def _wanted(departure: Departure, now: datetime) -> dict[str, Notice]:
    if not missing_of(departure, absent_of(departure)):
        return {}
    readers = holders(departure.crew.outing.site, SiteRole.Role.OFFICER, now)
    return {row.key: row for row in (_row(departure, reader, now) for reader in readers)}


def _row(departure: Departure, reader: Recipient, now: datetime) -> Notice:
    outing = departure.crew.outing
    return new_notice(
        key=f"left-{departure.pk}:{reader.mark}",
        kind=LEFT_WITHOUT,
        site=outing.site,
        reader=reader,
        send_on=departure.date,
        # The first hour of that date has passed: it is due as soon as it is written.
        hour=0,
        when_on=departure.date,
        reference=f"D{departure.pk}",
        path=f"/outings/{outing.pk}/",
        audience="officer",
        now=now,
        outing=outing,
    )
