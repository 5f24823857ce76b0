"""What a proposed roster must keep, checked apart from the solver, and the best one by trying every roster.

Plain loops over dates; nothing of staff.planning but its values.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import product

from staff.planning.roster_values import Candidate, Filled, OpenCrew, ProposedRoster
from staff.rules.outing.rest_days import RestRules

DAY = timedelta(days=1)
# Who does what on which day: the same person at most once a day.
Choice = dict[tuple[int, date], str]


def faults(
    plan: ProposedRoster, crews: Sequence[OpenCrew], people: Sequence[Candidate], rest: RestRules
) -> list[str]:
    """Sentences about everything that breaks a rule; empty when nothing does."""
    found: list[str] = []
    by_key, by_crew = {one.key: one for one in people}, {crew.key: crew for crew in crews}
    seen: set[tuple[int, date]] = set()
    for place in plan.filled:
        one, crew = by_key[place.person], by_crew[place.crew]
        if place.day != crew.day:
            found.append(f"{place}: the crew goes on {crew.day}")
        if place.role not in one.roles:
            found.append(f"{place}: not one of the person's roles")
        if place.day not in one.free or place.day in one.out:
            found.append(f"{place}: not free")
        if (place.person, place.day) in seen:
            found.append(f"{place}: in two places")
        seen.add((place.person, place.day))
    for crew in crews:
        for role, number in crew.lacks.items():
            got = sum(place.crew == crew.key and place.role == role for place in plan.filled)
            stated = plan.open.get(crew.key, {}).get(role, 0)
            if got + stated != number:
                found.append(f"crew {crew.key}: {got} filled and {stated} stated open of {number} {role}")
    for one in people:
        mine = {place.day for place in plan.filled if place.person == one.key}
        found += [f"person {one.key}: {why}" for why in tired(mine, one.out, rest)]
    return found


def tired(chosen: set[date], out: frozenset[date], rest: RestRules) -> Iterator[str]:
    """Where a chosen day belongs to a run that is too long, or stands in the days off after a longest run."""
    days = sorted(chosen | out)
    for day in days:
        run = [day + number * DAY for number in range(rest.longest_run)]
        if not all(one in days for one in run):
            continue
        for number in range(1, rest.rest_days + 1):
            off = run[-1] + number * DAY
            if off in days and any(one in chosen for one in (*run, off)):
                yield f"no day off on {off} after {rest.longest_run} days from {day}"


def score(
    filled: Sequence[Filled], crews: Sequence[OpenCrew], people: Sequence[Candidate]
) -> tuple[int, int, int, int]:
    """Less is better: crews left incomplete, places left open, wishes, unevenness."""
    incomplete = sum(
        any(
            sum(place.crew == crew.key and place.role == role for place in filled) < number
            for role, number in crew.lacks.items()
        )
        for crew in crews
    )
    wishes = uneven = 0
    span = {crew.day for crew in crews}
    for one in people:
        mine = [place.day for place in filled if place.person == one.key]
        wishes += sum(2 * (day in one.rather_not) - (day in one.gladly) for day in mine)
        had = len([day for day in one.out if min(span) <= day <= max(span)])
        uneven += sum(range(had + 1, had + len(mine) + 1))
    return incomplete, sum(sum(crew.lacks.values()) for crew in crews) - len(filled), wishes, uneven


def best_by_trying(
    crews: Sequence[OpenCrew], people: Sequence[Candidate], rest: RestRules
) -> tuple[int, int, int, int]:
    """The best score of all rosters there are: each open place by each person or nobody."""
    places = [
        (crew, role) for crew in crews for role, number in crew.lacks.items() for _each in range(number)
    ]
    keys: list[int | None] = [None, *(one.key for one in people)]
    best: tuple[int, int, int, int] | None = None
    for chosen in product(keys, repeat=len(places)):
        filled = tuple(
            Filled(crew.day, crew.key, role, person)
            for (crew, role), person in zip(places, chosen, strict=True)
            if person is not None
        )
        left = {
            crew.key: {
                role: number - sum(p.crew == crew.key and p.role == role for p in filled)
                for role, number in crew.lacks.items()
            }
            for crew in crews
        }
        if not faults(ProposedRoster(filled, left), crews, people, rest):
            reached = score(filled, crews, people)
            best = reached if best is None or reached < best else best
    assert best is not None
    return best
