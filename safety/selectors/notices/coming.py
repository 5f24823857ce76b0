"""The mails of the coming fortnight: rows that wait, and those the plan would make if nothing is recorded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from safety import registry
from safety.models import Course, Incident, Notice
from safety.rules.notices import follow_up as rule
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.forecast import FORTNIGHT, Foreseen
from safety.rules.notices.local_time import due_at
from safety.selectors.notices.plans import plan_of
from safety.selectors.notices.recipients import Recipient, audience_of
from staff.models import Site

UNSENT = (Notice.State.WAITING, Notice.State.CLAIMED, Notice.State.GATHERED)
# What one mail is about, for whom and for which date: the same for a row and for what foresees it.
Mark = tuple[int | None, int | None, int | None, str, date, str]


@dataclass(frozen=True)
class Coming:
    """One mail. `at` is by the clocks of the site; `certain`: planned already, whatever is not recorded by then."""

    at: datetime
    reference: str
    kind: str
    audience: str
    email: str
    certain: bool


def coming(
    site: Site, now: datetime, plan: Sequence[rule.PlanRow] | None = None, days: int = FORTNIGHT
) -> list[Coming]:
    """Soonest first. With `plan`, what of doses and cases would come under that plan, and no other row."""
    last = site.local_date(now) + timedelta(days=days - 1)
    rows = Notice.objects.filter(site=site)
    foreseen = dict(_foreseen(site, now, plan_of(site) if plan is None else plan, days))
    settled = {
        _mark(row) for row in _of(rows, foreseen) if row.state not in (*UNSENT, Notice.State.WITHDRAWN)
    }
    found = [each for mark, each in foreseen.items() if mark not in settled]
    if plan is None:
        waiting = rows.filter(state__in=UNSENT, send_on__lte=last).exclude(gathers=True)
        found += [_row(row, site) for row in waiting if _mark(row) not in foreseen]
    return sorted(found, key=lambda each: (each.at, each.reference, each.email))


def _of(rows: QuerySet[Notice], foreseen: dict[Mark, Coming]) -> QuerySet[Notice]:
    return rows.filter(
        incident__in={mark[0] for mark in foreseen},
        send_on__gte=min((m[4] for m in foreseen), default=date.max),
    )


def _mark(row: Notice) -> Mark:
    return (row.incident_id, row.course_id, row.step, row.kind, row.send_on, row.email)


def _row(row: Notice, site: Site) -> Coming:
    at = row.due_at.astimezone(site.zone)
    return Coming(at, row.reference, row.kind, row.audience, row.email, certain=True)


def _foreseen(
    site: Site, now: datetime, plan: Sequence[rule.PlanRow], days: int
) -> Iterator[tuple[Mark, Coming]]:
    readers = _Readers(site, now)
    for origin in registry.origins():
        if origin.foreseen is not None:
            for incident, course, each in origin.foreseen(site, now, plan, days):
                yield from readers.mails(incident, course, each)


class _Readers:
    """Who is behind an audience, asked once a site and once a member."""

    def __init__(self, site: Site, now: datetime) -> None:
        self._site, self._now = site, now
        self._known: dict[tuple[Audience, tuple[int, str]], list[Recipient]] = {}

    def mails(
        self, incident: Incident, course: Course | None, each: Foreseen
    ) -> Iterator[tuple[Mark, Coming]]:
        wanted, site = each.notice, self._site
        is_member, key = wanted.audience == Audience.MEMBER, course.pk if course else None
        about = (incident.person_id, course.time_zone if course else "") if is_member else (0, "")
        if (wanted.audience, about) not in self._known:
            self._known[wanted.audience, about] = audience_of(
                incident, wanted.audience, self._now, place_zone=about[1]
            )
        for reader in self._known[wanted.audience, about]:
            hour = site.rules.notice_hour if wanted.hour is None else wanted.hour
            zone = ZoneInfo(reader.clocks(site, local_date=wanted.send_on, hour=hour))
            at = due_at(local_date=wanted.send_on, hour=hour, zone=zone).astimezone(site.zone)
            step = wanted.step if course else None
            yield (
                (incident.pk, key, step, wanted.stage, wanted.send_on, reader.email),
                Coming(at, incident.reference, wanted.stage, wanted.audience, reader.email, each.planned),
            )


@dataclass(frozen=True)
class PlanDifference:
    """Mails of the coming fortnight that a plan would add and take away."""

    more: list[Coming]
    fewer: list[Coming]


def plan_difference(site: Site, plan: Sequence[rule.PlanRow], now: datetime) -> PlanDifference:
    old, new = coming(site, now, plan_of(site)), coming(site, now, plan)

    def told(row: Coming) -> tuple[datetime, str, str, str]:
        return (row.at, row.reference, row.kind, row.email)

    before, after = {told(row) for row in old}, {told(row) for row in new}
    return PlanDifference(
        more=[row for row in new if told(row) not in before],
        fewer=[row for row in old if told(row) not in after],
    )
