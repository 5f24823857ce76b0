"""Which people come to which vaccination session: fewest vials, then fewest sessions, then as early as possible.

People with the same missing doses and the same room in the calendar are alike, so the solver only counts how many
of them take which dose on which day: 200 people are no harder than 20. Gaps are kept by counts too: as many as have
had dose k+1 by a day must have had dose k so many days before it. Then whoever came first for dose k comes first for
dose k+1, and the gap of each person holds.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from staff.planning.model import Group, Model
from staff.planning.values import MissingDose, Need, Visit, earliest_dates, vials_needed

__all__ = ["MissingDose", "Need", "ProposedSessions", "Visit", "plan_sessions", "vials_needed"]

# Work for each aim, in the solver's own units (about a second): counted work, not time, so that the same question
# has the same answer on a busy machine. What is found by then is used and said to be unproven.
EFFORT = 1.5


@dataclass(frozen=True)
class ProposedSessions:
    """`no_day`: nobody's chosen days fit these; `no_room`: the sessions are full. `proven`: no better plan exists."""

    visits: tuple[Visit, ...]
    vials: int
    vials_one_by_one: int
    no_day: tuple[int, ...]
    no_room: tuple[int, ...]
    proven: bool

    @property
    def days(self) -> tuple[date, ...]:
        return tuple(sorted({visit.on for visit in self.visits}))

    def on(self, day: date) -> tuple[Visit, ...]:
        return tuple(visit for visit in self.visits if visit.on == day)


def plan_sessions(
    *,
    needs: Sequence[Need],
    days: Sequence[date],
    injections_per_vial: int,
    people_at_most: int | None = None,
    effort: float = EFFORT,
) -> ProposedSessions:
    """Place every need on `days`. Objectives in order: most people, fewest vials, fewest sessions, earliest end.

    `people_at_most` limits one session. Needs without a missing dose are left out.
    """
    wanted = [need for need in needs if need.doses]
    chosen = sorted(set(days))
    groups: dict[tuple[object, ...], list[Need]] = defaultdict(list)
    no_day: list[int] = []
    for need in sorted(wanted, key=lambda need: need.key):
        open_days = [day for day in chosen if need.first_from <= day <= need.last_on]
        if earliest_dates(need.doses, open_days) is None:
            no_day.append(need.key)
        else:
            groups[(need.doses, open_days[0], open_days[-1])].append(need)
    model = Model([Group(people, chosen) for people in groups.values()], injections_per_vial, people_at_most)
    proven = model.solve(effort)
    visits, no_room = model.visits()
    return ProposedSessions(
        visits=visits,
        vials=_vials(visits, injections_per_vial),
        vials_one_by_one=sum(vials_needed(visit.injections, injections_per_vial) for visit in visits),
        no_day=tuple(no_day),
        no_room=no_room,
        proven=proven,
    )


def _vials(visits: Iterable[Visit], injections_per_vial: int) -> int:
    given: dict[date, int] = defaultdict(int)
    for visit in visits:
        given[visit.on] += visit.injections
    return sum(vials_needed(count, injections_per_vial) for count in given.values())
