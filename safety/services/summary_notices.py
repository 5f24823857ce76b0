"""The daily summary: one mail a day and officer at the site's hour, when anything is open; numbers and a link."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from safety.emails.build import SUMMARY
from safety.models import Notice
from safety.outbox.states import State, move
from safety.rules.follow_up import Audience
from safety.rules.local_time import due_at
from safety.selectors.recipients import Recipient, holders
from safety.selectors.summary import summaries, summary_of
from safety.services.notice_rows import bring_up, new_notice
from staff.models import Site, SiteRole
from staff.services.transactions import retried

# Written from an hour before the site's hour to an hour after it: what comes up later is told by notices of its own.
WINDOW = timedelta(hours=1)


@retried
def summary_notices_reconcile(*, now: datetime) -> None:
    """Write this morning's summaries and withdraw those nobody needs any more; repeating changes nothing."""
    wanted = {row.key: row for site in _sites_at_their_hour(now) for row in _rows(site, now)}
    with transaction.atomic():
        standing = {row.key: row for row in Notice.objects.filter(key__in=wanted)}
        bring_up(wanted, standing, now)
        waiting = Notice.objects.filter(kind=SUMMARY, state=State.WAITING).exclude(key__in=wanted)
        for row in waiting.select_related("site"):
            if not summary_still_true(row, now):
                move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)


def summary_still_true(notice: Notice, now: datetime) -> bool:
    """Still the site's date, still somebody who is told, and something is open still."""
    site = notice.site
    today = site.local_date(now)
    keys = {_key(site, notice, reader) for reader in holders(site, SiteRole.Role.OFFICER, now)}
    return notice.send_on == today and notice.key in keys and bool(summary_of(site, today))


def _sites_at_their_hour(now: datetime) -> list[Site]:
    sites = Site.objects.filter(site_roles__role=SiteRole.Role.OFFICER, rules__isnull=False)
    around = [
        site
        for site in sites.select_related("rules").distinct().order_by("pk")
        if abs(now - due_at(local_date=site.local_date(now), hour=site.rules.notice_hour, zone=site.zone))
        <= WINDOW
    ]
    found = summaries({site: site.local_date(now) for site in around}) if around else {}
    return [site for site in around if found[site.pk]]


def _rows(site: Site, now: datetime) -> list[Notice]:
    return [_row(site, reader, now) for reader in holders(site, SiteRole.Role.OFFICER, now)]


def _row(site: Site, reader: Recipient, now: datetime) -> Notice:
    today = site.local_date(now)
    row = new_notice(
        key="",
        kind=SUMMARY,
        site=site,
        reader=reader,
        send_on=today,
        when_on=today,
        reference=f"S{site.pk}",
        # What is late stands on top of every page; the address says nothing.
        path="/cases/",
        audience=Audience.OFFICER,
        now=now,
    )
    row.key = _key(site, row, reader)
    return row


def _key(site: Site, notice: Notice, reader: Recipient) -> str:
    return f"summary-{site.pk}:{notice.send_on}:{reader.mark}"
