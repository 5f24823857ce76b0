"""Reading outings: what is coming, what was, and who is on each crew."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import QuerySet

from staff.models import Assignment, Crew, CrewRole, DayWish, Outing, Site
from staff.rules.outing.crew_shape import Shape, missing_from, shape_of
from staff.selectors.outing.wishes import last_words

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
    """`earlier`: past outings that are left out. `short`: keys of coming outings with a crew that still lacks a needed crew role; `left`: of those all
    of whose crews have left."""

    coming: tuple[Outing, ...]
    past: tuple[Outing, ...]
    earlier: int
    short: frozenset[int]
    left: frozenset[int]


def outing_list(outings: QuerySet[Outing], now: datetime, *, whole: bool = False) -> OutingList:
    """Coming ones soonest first, and the last that were (`whole`: all that were), by each site's own date at `now`."""
    rows = outings.prefetch_related("crews", "assignments", "site__crew_shapes")
    near = rows.filter(date__gte=(now - SLACK).date()).order_by("date", "area", "pk")
    coming = [row for row in near if row.date >= row.site.local_date(now)]
    last = (now + SLACK).date()
    gone = rows.filter(date__lte=last).order_by("-date", "area", "pk")
    ahead = sum(row.date <= last for row in coming)
    found = list(gone if whole else gone[: PAST_SHOWN + ahead])
    past = [row for row in found if row.date < row.site.local_date(now)]
    past = past if whole else past[:PAST_SHOWN]
    # Fewer than were asked for are all there are: nothing is left to be counted.
    all_read = whole or len(found) < PAST_SHOWN + ahead
    earlier = 0 if all_read else gone.count() - ahead - len(past)
    short = frozenset(row.pk for row in coming if _is_short(row))
    left = frozenset(row.pk for row in coming if _all_left(row))
    return OutingList(tuple(coming), tuple(past), earlier, short, left)


def _is_short(outing: Outing) -> bool:
    shape, rows = outing_shape(outing), outing.assignments.all()
    return any(
        missing_from(shape, [row.role for row in rows if row.crew_id == crew.pk])
        for crew in outing.crews.all()
        if crew.left_at is None
    )


def _all_left(outing: Outing) -> bool:
    crews = outing.crews.all()
    return bool(crews) and all(crew.left_at for crew in crews)


def people_asked_off(outing: Outing) -> set[int]:
    """Who of the site said they can't come on the outing's date, by key; the last word about a day counts."""
    said = last_words(DayWish.objects.filter(person__site=outing.site_id), [outing.date])
    return {person for person, days in said.items() if days[outing.date] == DayWish.Kind.CANNOT}


def outing_shape(outing: Outing) -> Shape:
    """Who each crew of the outing needs by its site's rules for the method."""
    return site_shape(outing.site, outing.method)


def site_shape(site: Site, method: str) -> Shape:
    return shape_of(method, ((row.method, row.role, row.needed) for row in site.crew_shapes.all()))


def crews_of(outing: Outing) -> tuple[CrewView, ...]:
    """Crews in order, who is on each, and the needed crew roles that nobody on it has; a crew that left needs none any more."""
    assignments, shape = list(outing.assignments.select_related("person")), outing_shape(outing)
    return tuple(
        _crew(crew, shape, [row for row in assignments if row.crew_id == crew.pk])
        for crew in outing.crews.all()
    )


def _crew(crew: Crew, shape: Shape, assignments: Iterable[Assignment]) -> CrewView:
    rows = tuple(assignments)
    lacking = {} if crew.left_at else missing_from(shape, [row.role for row in rows])
    missing = tuple(lacking_words(role, number) for role, number in lacking.items())
    return CrewView(crew, rows, missing)


def lacking_words(role: str, number: int) -> str:
    """One missing place of a crew role by its name alone, several with their number."""
    label = str(CrewRole(role).label)
    return label if number == 1 else f"{number} × {label}"
