"""The daily summary: one mail a day and officer at the site's hour, when anything is open; numbers and a link."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.local_time import due_at
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, holders
from safety.selectors.notices.summary import Summary, summaries, summary_of
from staff.models import Site, SiteRole

# Written from an hour before the site's hour to an hour after it: what comes up later is told by notices of its own.
WINDOW = timedelta(hours=1)


@dataclass(frozen=True)
class Morning:
    """A site and what is open there; `writes`: around its hour, when new ones are written."""

    site: Site
    open: Summary
    writes: bool

    @property
    def pk(self) -> int:
        return self.site.pk


def _subjects(now: datetime) -> Iterator[Morning]:
    """Sites at their hour, and those of which one waits that perhaps nobody needs any more."""
    waiting = set(_ours().filter(state=Notice.State.WAITING).values_list("site", flat=True))
    kept = Site.objects.filter(site_roles__role=SiteRole.Role.OFFICER) | Site.objects.filter(pk__in=waiting)
    sites = kept.filter(rules__isnull=False).select_related("rules").distinct().order_by("pk")
    asked = [site for site in sites if site.pk in waiting or _at_its_hour(site, now)]
    found = summaries({site: site.local_date(now) for site in asked}) if asked else {}
    return (Morning(site, found[site.pk], _at_its_hour(site, now)) for site in asked)


def _at_its_hour(site: Site, now: datetime) -> bool:
    hour = due_at(local_date=site.local_date(now), hour=site.rules.notice_hour, zone=site.zone)
    return abs(now - hour) <= WINDOW


def _subject_of(notice: Notice) -> Morning:
    return Morning(notice.site, summary_of(notice.site, notice.send_on), writes=False)


def _wanted(morning: Morning, now: datetime) -> dict[str, Notice]:
    """Still the site's date, still somebody who is told, and something is open still."""
    site = morning.site
    if not morning.open:
        return {}
    rows = by_key(_row(site, reader, now) for reader in holders(site, SiteRole.Role.OFFICER, now))
    if morning.writes:
        return rows
    written = set(_ours().filter(key__in=rows).values_list("key", flat=True))
    return {key: row for key, row in rows.items() if key in written}


def _row(site: Site, reader: Recipient, now: datetime) -> Notice:
    today = site.local_date(now)
    return new_notice(
        key=f"summary-{site.pk}:{today}:{reader.mark}",
        kind=SUMMARY.name,
        site=site,
        reader=reader,
        send_on=today,
        when_on=today,
        reference=reference(Letter.SITE, site.pk),
        # What is late stands on top of every page; the address says nothing.
        path="/cases/",
        audience=Audience.OFFICER,
        now=now,
    )


def _ours() -> QuerySet[Notice]:
    return Notice.objects.filter(kind=SUMMARY.name)


def _standing(morning: Morning, _now: datetime) -> QuerySet[Notice]:
    return _ours().filter(site=morning.site, state=Notice.State.WAITING)


def _open(notice: Notice, today: date) -> dict[str, Any]:
    """The numbers are those of the moment the mail is built."""
    return {"open": summary_of(notice.site, today)}


MORNINGS = Origin(
    name="daily summaries",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=_standing,
)
SUMMARY = NoticeKind(
    name="summary",
    word=_("the daily summary of what is open"),
    template="summary",
    origin=MORNINGS,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
    context=_open,
)
KINDS = (SUMMARY,)
