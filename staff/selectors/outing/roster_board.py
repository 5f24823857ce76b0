"""A team and its outings over some days: who may go out when, who goes where, and what is still open.

Everybody is judged once for all the days, in a constant number of queries.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from django.db.models import Prefetch, Q

from staff.models import Assignment, Clearance, Crew, DayWish, Outing, Person, Site
from staff.rules.outing.crew_shape import missing_from
from staff.rules.outing.rest_days import RestRules, misses_day_off
from staff.selectors.outing.roster import outing_shape
from staff.selectors.outing.wishes import last_words
from staff.selectors.record.readiness import ClearDates, Readiness, clear_dates
from staff.selectors.record.team import not_left

DAY = timedelta(days=1)
MOST_DAYS = 28
# Rosters look some weeks back and ahead, which the ends of the calendar don't have.
YEARS = range(2000, 2200)


@dataclass(frozen=True)
class CrewDay:
    """One crew of an outing, who is on it, and how many of which crew role it lacks; one that left lacks nobody any more."""

    crew: Crew
    outing: Outing
    assignments: tuple[Assignment, ...]
    lacks: Mapping[str, int]

    @property
    def left(self) -> bool:
        return self.crew.left_at is not None


@dataclass(frozen=True)
class TeamMember:
    """A person over the days: `assigned` by date, and the dates out on outings shortly before and after them too."""

    person: Person
    roles: frozenset[str]
    clear: ClearDates
    assigned: Mapping[date, Assignment]
    out: frozenset[date]
    wishes: Mapping[date, str]

    def cover_on(self, day: date) -> Clearance | None:
        """The stored clearance that a place on `day` would rest on."""
        return self.clear.cover_on(day)

    def readiness(self, on: date) -> Readiness:
        return self.clear.on(on)

    def clear_on(self, day: date) -> bool:
        return self.clear.clear_on(day)

    def wish(self, day: date) -> str:
        return self.wishes.get(day, "")

    def misses_day_off(self, day: date, rest: RestRules) -> bool:
        """Whether a day out would make the run of days too long, or take a day off after the longest run away."""
        return misses_day_off(self.out, day, rest)


@dataclass(frozen=True)
class RosterBoard:
    site: Site
    days: tuple[date, ...]
    crews: tuple[CrewDay, ...]
    team: tuple[TeamMember, ...]
    rest: RestRules

    @cached_property
    def crews_by_day(self) -> dict[date, list[CrewDay]]:
        found: dict[date, list[CrewDay]] = {day: [] for day in self.days}
        for row in self.crews:
            found[row.outing.date].append(row)
        return found

    @cached_property
    def by_person(self) -> dict[int, TeamMember]:
        return {member.person.pk: member for member in self.team}


def roster_board(site: Site, first: date, days: int) -> RosterBoard:
    """The board of `days` days (at most `MOST_DAYS`) from `first`: people with a crew role who are with the team then."""
    span = tuple(first + number * DAY for number in range(min(days, MOST_DAYS)))
    last = span[-1]
    rules = site.rules
    rest = RestRules(rules.longest_run, rules.rest_days)
    outings = (
        Outing.objects.filter(site=site, date__range=(first, last), cancelled_at__isnull=True)
        .select_related("site__rules")
        .prefetch_related(
            "site__crew_shapes",
            Prefetch(
                "crews",
                Crew.objects.prefetch_related(
                    Prefetch("assignments", Assignment.objects.select_related("person"))
                ),
            ),
        )
        .order_by("date", "area", "pk")
    )
    crews = tuple(_crew_day(crew, outing) for outing in outings for crew in outing.crews.all())
    return RosterBoard(site, span, crews, _team(site, span, rest), rest)


def _crew_day(crew: Crew, outing: Outing) -> CrewDay:
    rows = tuple(crew.assignments.all())
    lacks = {} if crew.left_at else missing_from(outing_shape(outing), [row.role for row in rows])
    return CrewDay(crew, outing, rows, lacks)


def _team(site: Site, span: Sequence[date], rest: RestRules) -> tuple[TeamMember, ...]:
    first, last = span[0], span[-1]
    people = site.people.filter(
        not_left(first),
        Q(active_from__isnull=True) | Q(active_from__lte=last),
        crew_roles__isnull=False,
    ).distinct()
    assigned: dict[int, dict[date, Assignment]] = defaultdict(dict)
    near = Assignment.objects.filter(
        person__in=people,
        outing__date__range=(first - rest.reach, last + rest.reach),
        outing__cancelled_at__isnull=True,
    )
    for row in near.select_related("outing", "crew"):
        assigned[row.person_id][row.outing.date] = row
    wishes = last_words(DayWish.objects.filter(person__in=people), span)
    return tuple(
        TeamMember(
            person=dates.person,
            roles=frozenset(role.role for role in dates.person.crew_roles.all()),
            clear=dates,
            assigned={day: row for day, row in assigned[dates.person.pk].items() if first <= day <= last},
            out=frozenset(assigned[dates.person.pk]),
            wishes=wishes.get(dates.person.pk, {}),
        )
        for dates in clear_dates(people, [site])
    )
