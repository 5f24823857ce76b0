"""A new report that calls for a clinic: told to the liaison and the officer, at once."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Incident, Notice
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import Audience
from safety.selectors.case.matters import incidents_open, waits_for_visit
from safety.selectors.notices.recipients import Recipient, audience_of

TOLD = (Audience.LIAISON, Audience.OFFICER)
# What came in before this is on the desk by other ways; a restored database doesn't write about last year.
FRESH = timedelta(days=7)


def _subjects(now: datetime) -> QuerySet[Incident]:
    """Reports that turned out to need a clinic later, and readers who have joined since, among them."""
    fresh = Q(reported_at__gt=now - FRESH) | Q(late_report_at__gt=now - FRESH)
    return (
        Incident.objects.filter(fresh, closed_at__isnull=True)
        .select_related("site__rules", "person__user")
        .prefetch_related("wounds", "visits")
    )


def _wanted(incident: Incident, now: datetime) -> dict[str, Notice]:
    """A case that was closed, was seen at a clinic or proved harmless meanwhile needs nobody today."""
    if not waits_for_visit(incident):
        return {}
    # A site without a liaison has its officers in both places: they are written to once.
    readers = {reader.tag: reader for audience in TOLD for reader in audience_of(incident, audience, now)}
    return by_key(_row(incident, reader, now) for reader in readers.values())


def _row(incident: Incident, reader: Recipient, now: datetime) -> Notice:
    late = incident.late_report_at
    day = incident.site.local_date(late or incident.reported_at)
    # A report that opened its case again is told anew.
    matter = f"report-{incident.pk}{f':{late:%Y%m%dT%H%M%S.%f}' if late else ''}"
    return new_notice(
        key=f"{matter}:{reader.mark}",
        matter=matter,
        kind=NEW_REPORT.name,
        site=incident.site,
        reader=reader,
        send_on=day,
        hour=0,
        when_on=day,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience="report",
        now=now,
        incident=incident,
    )


def _stands(notice: Notice) -> bool:
    incident = incidents_open().filter(notices=notice.pk).first()
    return incident is not None and waits_for_visit(incident)


REPORTS = Origin(
    name="notices of new reports",
    subjects=_subjects,
    subject_of=lambda notice: notice.incident,
    wanted=_wanted,
    standing=None,
)
NEW_REPORT = NoticeKind(
    name="new-report",
    word=_("a new report needs somebody today"),
    template="new_report",
    origin=REPORTS,
    asks=_stands,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (NEW_REPORT,)
