"""Whom a safety briefing may be recorded for, and who lacks one."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import QuerySet

from staff.models import Outing, Person, Site
from staff.rules.record.reasons import Reason, ReasonCode
from staff.selectors.record.records import RegimenBook, with_record
from staff.selectors.record.team import team_of

LACKING = frozenset({ReasonCode.BRIEFING_MISSING, ReasonCode.BRIEFING_LAPSED})
# A briefing is held for an outing on the day or shortly before, and written down soon after.
BEFORE, AFTER = timedelta(days=30), timedelta(days=60)


@dataclass(frozen=True)
class BriefingRow:
    """`last_on` is the latest briefing on record; `lacking` says that the site asks for another one."""

    person: Person
    last_on: date | None
    lacking: bool


def lacks_briefing(reasons: Iterable[Reason]) -> bool:
    return any(reason.code in LACKING for reason in reasons)


def team_to_brief(site: Site, today: date) -> QuerySet[Person]:
    """Who is with the team or joins it later."""
    return team_of(site, today).order_by("name", "pk")


def outings_to_brief(sites: Iterable[Site], now: datetime) -> QuerySet[Outing]:
    """Outings around today whose people may be ticked together; cancelled ones leave nobody to brief."""
    today = now.date()
    near = Outing.objects.filter(site__in=sites, date__range=(today - BEFORE, today + AFTER))
    return near.filter(cancelled_at__isnull=True).select_related("site").order_by("site__name", "-date", "pk")


def briefing_rows(people: QuerySet[Person], site: Site, today: date) -> list[BriefingRow]:
    """`people` of `site` with their latest briefing, in a constant number of queries."""
    book = RegimenBook.for_sites([site])
    rows = []
    for person in with_record(people.select_related("site__rules")):
        held = [briefing.held_on for briefing in person.briefings.all()]
        reasons = book.judge(person).reasons_on(today)
        rows.append(BriefingRow(person, max(held, default=None), lacks_briefing(reasons)))
    return rows


def shown_rows(
    rows: Iterable[BriefingRow],
    *,
    text: str = "",
    on_outing: Collection[int] | None = None,
    lacking: bool = False,
) -> list[BriefingRow]:
    """Those that fit every wish: name or number holds `text`, key in `on_outing`, lacking a briefing."""
    wanted = text.casefold().strip()
    return [
        row
        for row in rows
        if (not wanted or wanted in row.person.name.casefold() or wanted in row.person.number.casefold())
        and (on_outing is None or row.person.pk in on_outing)
        and (not lacking or row.lacking)
    ]
