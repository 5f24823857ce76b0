"""Notices about the dates of people's own records, before anything happened: next dose, re-check, briefing, letter.

The member is written to about the own date; the liaison (about a letter the officer too) once for all that is due
on one date; the officer once a week about all that is late. So a site of any size gets a handful of mails, and a tick reads a window of dates.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from safety.models import Notice
from safety.outbox.claims import retime
from safety.outbox.states import State, move
from safety.rules.follow_up import (
    LETTER_PLAN,
    RECORD_PLAN,
    Audience,
    Stage,
    record_notices,
    week_turn,
)
from safety.selectors.recipients import Recipient, clinic_side, holders, member
from safety.selectors.record_dues import dues_coming, first_late
from safety.services.notice_rows import bring_up, new_notice, timing
from staff.models import PersonDue, Site, SiteRole
from staff.services.transactions import retried

TEAM_KIND = "dates"
RECORD_KINDS = frozenset(
    f"{subject}-{stage}"
    for subject, stages in {
        **dict.fromkeys(PersonDue.Kind.values, (Stage.SOON, Stage.TODAY)),
        TEAM_KIND: tuple(Stage),
    }.items()
    for stage in stages
)
# Keys looked up at once.
BATCH = 500


@retried
def record_notices_reconcile(*, now: datetime) -> None:
    """Make these notices what the records ask for at `now`; repeating changes nothing."""
    wanted = record_rows(now)
    keys = sorted(wanted)
    with transaction.atomic():
        standing: dict[str, Notice] = {}
        for start in range(0, len(keys), BATCH):
            found = Notice.objects.filter(key__in=keys[start : start + BATCH])
            standing |= {row.key: row for row in found}
        bring_up(wanted, standing, now)
        for key, row in standing.items():
            if row.state == State.WAITING and _moved(row, wanted[key]):
                retime(row, **timing(wanted[key]))
        for row in Notice.objects.filter(kind__in=RECORD_KINDS, state=State.WAITING):
            if row.key not in wanted:
                move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)


def _moved(row: Notice, wanted: Notice) -> bool:
    """The site's hour or zone is another now. What is late keeps the day of its week it was first planned for."""
    return row.send_on == wanted.send_on and row.due_at != wanted.due_at


def record_rows(now: datetime, of: Notice | None = None) -> dict[str, Notice]:
    """Every wanted notice by its key; with `of`, only what one about the same reader and date needs."""
    dues = dues_coming(now.date())
    sites = Site.objects.select_related("rules")
    if of is not None and of.when_on is not None:
        dues, sites = dues.filter(person__site=of.site_id), sites.filter(pk=of.site_id)
        dues = dues.filter(person=of.person_id) if of.person_id else dues.filter(due_on=of.when_on)
    rows = [*_about_dates(dues, now), *_about_late(sites, now)]
    return {row.key: row for row in rows}


def _about_dates(dues: QuerySet[PersonDue], now: datetime) -> Iterator[Notice]:
    teams: dict[tuple[Site, Audience], dict[tuple[date, str], date]] = {}
    for due in dues:
        site = due.person.site
        plan = LETTER_PLAN if due.kind == PersonDue.Kind.LETTER else RECORD_PLAN
        wanted = record_notices(due_on=due.due_on, today=site.local_date(now), plan=plan)
        for stage, send_on, audience in wanted:
            if audience == Audience.MEMBER:
                for reader in member(due.person):
                    yield _own(due, stage, send_on, reader, now)
            else:
                teams.setdefault((site, audience), {})[due.due_on, stage] = send_on
    for (site, audience), dates in teams.items():
        # Who is both, or an officer in the liaison's stead, has one key and so one notice.
        readers = (
            holders(site, SiteRole.Role.OFFICER, now)
            if audience == Audience.OFFICER
            else clinic_side(site, now)
        )
        for (due_on, stage), send_on in dates.items():
            for reader in readers:
                yield _team(site, stage, due_on, send_on, reader, audience, now)


def _about_late(sites: QuerySet[Site], now: datetime) -> Iterator[Notice]:
    for site in sites:
        today = site.local_date(now)
        first = first_late(site, today)
        if first is None:
            continue
        send_on = week_turn(first_late=first, today=today)
        monday = send_on - timedelta(days=send_on.weekday())
        for reader in holders(site, SiteRole.Role.OFFICER, now):
            yield new_notice(
                # The week names it, so that a date that changes within the week doesn't write twice.
                key=f"late-{site.pk}:{monday}:{reader.mark}",
                kind=f"{TEAM_KIND}-{Stage.LATE}",
                site=site,
                reader=reader,
                send_on=send_on,
                when_on=first,
                reference=f"S{site.pk}",
                path=_board(site, today),
                audience=Audience.OFFICER,
                now=now,
            )


def _own(due: PersonDue, stage: str, send_on: date, reader: Recipient, now: datetime) -> Notice:
    return new_notice(
        key=f"own-{due.person_id}:{due.kind}:{due.due_on}:{stage}:{send_on}:{reader.mark}",
        kind=f"{due.kind}-{stage}",
        site=due.person.site,
        reader=reader,
        send_on=send_on,
        when_on=due.due_on,
        reference=f"M{due.person_id}",
        path="/me/",
        audience=Audience.MEMBER,
        now=now,
    )


def _team(
    site: Site,
    stage: str,
    due_on: date,
    send_on: date,
    reader: Recipient,
    audience: Audience,
    now: datetime,
) -> Notice:
    return new_notice(
        key=f"team-{site.pk}:{due_on}:{stage}:{send_on}:{reader.mark}",
        kind=f"{TEAM_KIND}-{stage}",
        site=site,
        reader=reader,
        send_on=send_on,
        when_on=due_on,
        reference=f"S{site.pk}",
        # Who isn't clear on the day after is who still needs something.
        path=_board(site, due_on + timedelta(days=1)),
        audience=audience,
        now=now,
    )


def _board(site: Site, on: date) -> str:
    return f"/readiness/?site={site.pk}&on={on.isoformat()}"
