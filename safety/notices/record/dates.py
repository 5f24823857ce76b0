"""The dates of people's own records, before anything happened: next dose, re-check, briefing, letter.

The member is written to about the own date; the liaison (about a letter the officer too) once for all that is due
on one date; the officer once a week about all that is late. So a site of any size gets a handful of mails, and a tick reads a window of dates.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db.models import QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from safety import registry
from safety.models import Notice
from safety.notices.rows import Scope, by_key, new_notice, whole
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import (
    LETTER_PLAN,
    RECORD_PLAN,
    Audience,
    Stage,
    record_notices,
    week_turn,
)
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, clinic_side, holders, member
from safety.selectors.notices.record_dues import dues_coming, first_late
from staff.models import PersonDue, Site, SiteRole


def _wanted(scope: Scope, now: datetime) -> dict[str, Notice]:
    """All of them, or what one about the same reader and date needs."""
    of = scope.of
    dues, sites = dues_coming(now.date()), Site.objects.select_related("rules")
    if of is not None and of.when_on is not None:
        dues, sites = dues.filter(person__site=of.site_id), sites.filter(pk=of.site_id)
        dues = dues.filter(person=of.person_id) if of.person_id else dues.filter(due_on=of.when_on)
    return by_key([*_about_dates(dues, now), *_about_late(sites, now)])


def _standing(_scope: Scope, _now: datetime) -> QuerySet[Notice]:
    return Notice.objects.filter(kind__in=registry.names_of(RECORDS), state=Notice.State.WAITING)


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
                kind=_TEAM[Stage.LATE].name,
                site=site,
                reader=reader,
                send_on=send_on,
                when_on=first,
                week_on=monday,
                reference=reference(Letter.SITE, site.pk),
                path=_board(site, today),
                audience=Audience.OFFICER,
                now=now,
            )


def _own(due: PersonDue, stage: str, send_on: date, reader: Recipient, now: datetime) -> Notice:
    return new_notice(
        key=f"own-{due.person_id}:{due.kind}:{due.due_on}:{stage}:{send_on}:{reader.mark}",
        kind=_OWN[_DUE(due.kind), Stage(stage)].name,
        site=due.person.site,
        reader=reader,
        send_on=send_on,
        when_on=due.due_on,
        reference=reference(Letter.MEMBER, due.person_id),
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
        kind=_TEAM[Stage(stage)].name,
        site=site,
        reader=reader,
        send_on=send_on,
        when_on=due_on,
        reference=reference(Letter.SITE, site.pk),
        # Who isn't clear on the day after is who still needs something.
        path=_board(site, due_on + timedelta(days=1)),
        audience=audience,
        now=now,
    )


def _board(site: Site, on: date) -> str:
    return f"/readiness/?site={site.pk}&on={on.isoformat()}"


RECORDS = Origin(
    name="notices of the dates of records",
    subjects=whole,
    subject_of=Scope,
    wanted=_wanted,
    standing=_standing,
)


def _kind(name: str, word: Promise) -> NoticeKind:
    return NoticeKind(
        name=name,
        word=word,
        template="dose",
        origin=RECORDS,
        asks=None,
        may_share=True,
        counted_as=Counted.WITH_RECORDS,
    )


_DUE = PersonDue.Kind
_OWN = {
    (_DUE.DOSE, Stage.SOON): _kind("dose-soon", _("own next dose before field work is due soon")),
    (_DUE.DOSE, Stage.TODAY): _kind("dose-today", _("own next dose before field work is due today")),
    (_DUE.RECHECK, Stage.SOON): _kind("recheck-soon", _("own titre or booster is due soon")),
    (_DUE.RECHECK, Stage.TODAY): _kind("recheck-today", _("own titre or booster is due today")),
    (_DUE.BRIEFING, Stage.SOON): _kind("briefing-soon", _("own safety briefing runs out soon")),
    (_DUE.BRIEFING, Stage.TODAY): _kind("briefing-today", _("own safety briefing runs out today")),
    (_DUE.LETTER, Stage.SOON): _kind("letter-soon", _("own clinician's letter runs out soon")),
    (_DUE.LETTER, Stage.TODAY): _kind("letter-today", _("own clinician's letter runs out today")),
}
_TEAM = {
    Stage.SOON: _kind("dates-soon", _("doses, re-checks, briefings or letters of the team are due soon")),
    Stage.TODAY: _kind("dates-today", _("doses, re-checks, briefings or letters of the team are due today")),
    Stage.LATE: _kind("dates-late", _("doses, re-checks, briefings or letters of the team are overdue")),
}
KINDS = (*_OWN.values(), *_TEAM.values())
