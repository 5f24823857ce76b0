"""The notice of a report that waits for a name: to the officers who may read it, at most one an hour for each."""

from __future__ import annotations

from datetime import datetime, timedelta

from safety.models import Notice, PhoneMessage
from safety.selectors.phone import reports_held_for
from safety.selectors.recipients import Recipient, holders
from safety.services.notice_rows import add_notices, new_notice
from staff.models import Site, SiteRole

HELD_REPORT = "held-report"
# One mail calls an officer to the whole list; a flood of reports from nobody is no flood of mail.
SPACING = timedelta(hours=1)


def held_notices_reconcile(*, now: datetime) -> None:
    """The sweep: whoever may read a held report and hasn't been written to since it was held is, now or within the hour."""
    if (
        not PhoneMessage.objects.filter(state=PhoneMessage.State.HELD)
        .exclude(kind=PhoneMessage.COUNT)
        .exists()
    ):
        return
    kept = Site.objects.filter(site_roles__role=SiteRole.Role.OFFICER).select_related("rules").distinct()
    for site in kept.order_by("pk"):
        # Only an officer can open what waits, so nobody else stands in.
        for reader in holders(site, SiteRole.Role.OFFICER, now, deputies=(SiteRole.Role.OFFICER,)):
            add_notices(_wanted(site, reader, now))


def held_report_still_true(notice: Notice) -> bool:
    """Somebody may have dealt with the list meanwhile."""
    return notice.user is not None and reports_held_for(notice.user).exists()


def _wanted(site: Site, reader: Recipient, now: datetime) -> list[Notice]:
    assert reader.user is not None
    newest = reports_held_for(reader.user).exclude(held_at=None).order_by("held_at", "pk").last()
    told = Notice.objects.filter(kind=HELD_REPORT, user=reader.user).order_by("created_at").last()
    if newest is None or newest.held_at is None:
        return []
    if told is not None and (told.created_at >= newest.held_at or now - told.created_at < SPACING):
        return []
    day = site.local_date(newest.held_at)
    row = new_notice(
        key=f"held-{newest.pk}:{reader.mark}",
        kind=HELD_REPORT,
        site=site,
        reader=reader,
        send_on=day,
        # The first hour of that date has passed: it is due as soon as it is written.
        hour=0,
        when_on=day,
        reference=f"W{newest.pk}",
        path="/reports-waiting/",
        audience="officer",
        now=now,
    )
    return [row]
