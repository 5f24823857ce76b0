"""Reading outings: what is coming, what was, and who is on each crew."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import QuerySet

from staff.models import Assignment, Crew, CrewRole, Outing

# A crew that catches, vaccinates and writes down needs one of each; common practice, no source.
NEEDED_ROLES = (CrewRole.CATCHER, CrewRole.VACCINATOR, CrewRole.RECORDER)
PAST_SHOWN = 20
# Calendars of sites differ by up to a day and more around the same instant.
SLACK = timedelta(days=2)


@dataclass(frozen=True)
class CrewView:
    crew: Crew
    assignments: tuple[Assignment, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class OutingList:
    """`short`: keys of coming outings with a crew that still lacks a needed crew role."""

    coming: tuple[Outing, ...]
    past: tuple[Outing, ...]
    short: frozenset[int]


def outing_list(outings: QuerySet[Outing], now: datetime) -> OutingList:
    """Coming ones soonest first, and the last that were, by each site's own date at `now`."""
    rows = outings.prefetch_related("crews", "assignments")
    near = rows.filter(date__gte=(now - SLACK).date()).order_by("date", "area", "pk")
    coming = [row for row in near if row.date >= row.site.local_date(now)]
    gone = rows.filter(date__lte=(now + SLACK).date()).order_by("-date", "area", "pk")
    past = [row for row in gone[: PAST_SHOWN + len(coming)] if row.date < row.site.local_date(now)]
    short = frozenset(row.pk for row in coming if _is_short(row))
    return OutingList(tuple(coming), tuple(past[:PAST_SHOWN]), short)


def _is_short(outing: Outing) -> bool:
    filled = {(row.crew_id, row.role) for row in outing.assignments.all()}
    return any((crew.pk, role) not in filled for crew in outing.crews.all() for role in NEEDED_ROLES)


def crews_of(outing: Outing) -> tuple[CrewView, ...]:
    """Crews in order, who is on each, and the needed crew roles that nobody on it has."""
    assignments = list(outing.assignments.select_related("person"))
    return tuple(
        _crew(crew, [row for row in assignments if row.crew_id == crew.pk]) for crew in outing.crews.all()
    )


def _crew(crew: Crew, assignments: Iterable[Assignment]) -> CrewView:
    rows = tuple(assignments)
    filled = {row.role for row in rows}
    missing = tuple(str(role.label) for role in NEEDED_ROLES if role not in filled)
    return CrewView(crew, rows, missing)
