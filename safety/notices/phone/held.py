"""A report that waits for a name: told to the officers who may read it, at most once an hour each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext_lazy as _

from safety.models import Notice, PhoneMessage
from safety.notices.rows import new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, holders
from safety.selectors.phone.phone import reports_held_for
from staff.models import Site, SiteRole, User

# One mail calls an officer to the whole list; a flood of reports from nobody is no flood of mail.
SPACING = timedelta(hours=1)


@dataclass(frozen=True)
class Keeper:
    """Somebody who may read what is held; `told` is the notice that calls them to it already."""

    user: User
    site: Site
    reader: Recipient | None = None
    told: Notice | None = None

    @property
    def pk(self) -> int:
        return self.user.pk


def _subjects(now: datetime) -> Iterator[Keeper]:
    """Whoever may read a held report and hasn't been written to since it was held is, now or within the hour."""
    held = PhoneMessage.objects.filter(state=PhoneMessage.State.HELD)
    if not held.exclude(kind=PhoneMessage.COUNT).exists():
        return
    kept = Site.objects.filter(site_roles__role=SiteRole.Role.OFFICER).select_related("rules").distinct()
    for site in kept.order_by("pk"):
        # Only an officer can open what waits, so nobody else stands in.
        for reader in holders(site, SiteRole.Role.OFFICER, now, deputies=(SiteRole.Role.OFFICER,)):
            if reader.user is not None:
                yield Keeper(reader.user, site, reader=reader)


def _subject_of(notice: Notice) -> Keeper | None:
    return None if notice.user is None else Keeper(notice.user, notice.site, told=notice)


def _wanted(keeper: Keeper, now: datetime) -> dict[str, Notice]:
    """What was written stands until somebody has dealt with the whole list."""
    held = reports_held_for(keeper.user)
    if keeper.told is not None:
        return {keeper.told.key: keeper.told} if held.exists() else {}
    newest = held.exclude(held_at=None).order_by("held_at", "pk").last()
    if newest is None or newest.held_at is None or keeper.reader is None:
        return {}
    last = Notice.objects.filter(kind=HELD_REPORT.name, user=keeper.user).order_by("created_at").last()
    if last is not None and (last.created_at >= newest.held_at or now - last.created_at < SPACING):
        return {}
    row = _row(newest, keeper.site, keeper.reader, keeper.site.local_date(newest.held_at), now)
    return {row.key: row}


def _row(newest: PhoneMessage, site: Site, reader: Recipient, day: date, now: datetime) -> Notice:
    return new_notice(
        key=f"held-{newest.pk}:{reader.mark}",
        kind=HELD_REPORT.name,
        site=site,
        reader=reader,
        send_on=day,
        hour=0,
        when_on=day,
        reference=reference(Letter.HELD, newest.pk),
        path="/reports-waiting/",
        audience="officer",
        now=now,
        held=newest,
    )


HELD = Origin(
    name="notices of reports that wait for a name",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=None,
)
HELD_REPORT = NoticeKind(
    name="held-report",
    word=_("a report from a phone waits for a name"),
    template="new_report",
    origin=HELD,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (HELD_REPORT,)
