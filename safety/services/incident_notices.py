"""The notice of a new report that calls for a clinic: to the liaison and the officer, at once."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from safety.models import Incident, Notice
from safety.rules.follow_up import Audience
from safety.selectors.matters import waits_for_visit
from safety.selectors.recipients import Recipient, audience_of
from safety.services.notice_rows import bring_up, new_notice
from staff.bell import ring

logger = logging.getLogger(__name__)

NEW_REPORT = "new-report"
TOLD = (Audience.LIAISON, Audience.OFFICER)
# What came in before this is on the desk by other ways; a restored database doesn't write about last year.
FRESH = timedelta(days=7)


def incident_notices_add(*, incident: Incident, now: datetime) -> None:
    """Write who is to be told of this report, in the transaction that made it, and ring for a worker."""
    if _bring_up(incident, now):
        ring("safety.tick")


def incident_notices_reconcile(*, now: datetime) -> None:
    """The sweep: reports that turned out to need a clinic later, and readers who have joined since.

    One bad row never stops it.
    """
    for incident in _fresh(now):
        try:
            _bring_up(incident, now)
        except Exception:
            logger.exception("The report of case %s can't be told", incident.pk)


def _bring_up(incident: Incident, now: datetime) -> bool:
    """True when somebody is to be told, whether by a new notice or by one that stands."""
    wanted = _wanted(incident, now)
    with transaction.atomic():
        standing = {row.key: row for row in Notice.objects.filter(key__in=wanted)}
        bring_up(wanted, standing, now)
    return bool(wanted)


def new_report_still_true(notice: Notice, now: datetime) -> bool:
    """A case that was closed, was seen at a clinic or proved harmless meanwhile needs nobody today."""
    return notice.incident is not None and notice.key in _wanted(notice.incident, now)


def _fresh(now: datetime) -> QuerySet[Incident]:
    return (
        Incident.objects.filter(reported_at__gt=now - FRESH, closed_at__isnull=True)
        .select_related("site__rules", "person__user")
        .prefetch_related("wounds", "visits")
    )


def _wanted(incident: Incident, now: datetime) -> dict[str, Notice]:
    if not waits_for_visit(incident):
        return {}
    # A site without a liaison has its officers in both places: they are written to once.
    readers = {reader.tag: reader for audience in TOLD for reader in audience_of(incident, audience, now)}
    rows = (_row(incident, reader, now) for reader in readers.values())
    return {row.key: row for row in rows}


def _row(incident: Incident, reader: Recipient, now: datetime) -> Notice:
    late = incident.late_report_at
    day = incident.site.local_date(late or incident.reported_at)
    return new_notice(
        # A report that opened its case again is told anew.
        key=f"report-{incident.pk}{f':{late:%Y%m%dT%H%M%S.%f}' if late else ''}:{reader.mark}",
        kind=NEW_REPORT,
        site=incident.site,
        reader=reader,
        send_on=day,
        # The first hour of that date has passed: it is due as soon as it is written.
        hour=0,
        when_on=day,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience="report",
        now=now,
        incident=incident,
    )
