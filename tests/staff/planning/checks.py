"""An independent reading of what a plan of sessions must keep, and the best plan by trying every one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from itertools import combinations, product
from math import ceil

from staff.planning.sessions import Need, ProposedSessions


def faults(
    plan: ProposedSessions,
    needs: Sequence[Need],
    days: Sequence[date],
    per_vial: int,
    at_most: int | None = None,
) -> list[str]:
    """Everything that is wrong with `plan`, in words; written without the solver's own functions."""
    found: list[str] = []
    unplaced = set(plan.no_day) | set(plan.no_room)
    for need in needs:
        visits = sorted((v for v in plan.visits if v.key == need.key), key=lambda v: v.number)
        if not visits:
            if need.doses and need.key not in unplaced:
                found.append(f"{need.key} is forgotten")
            continue
        if [(v.number, v.injections) for v in visits] != [(d.number, d.injections) for d in need.doses]:
            found.append(f"{need.key} doesn't get the missing doses")
        if visits[0].on < need.first_from or visits[-1].on > need.last_on:
            found.append(f"{need.key} is outside the dates")
        for before, after, dose in zip(visits, visits[1:], need.doses[1:], strict=False):
            if (after.on - before.on).days < max(1, dose.gap):
                found.append(f"{need.key} comes too early for dose {after.number}")
    if {v.on for v in plan.visits} - set(days):
        found.append("a session on a day that was not chosen")
    per_day: Counter[date] = Counter()
    for visit in plan.visits:
        per_day[visit.on] += visit.injections
    if plan.vials != sum(ceil(count / per_vial) for count in per_day.values()):
        found.append("the vials are miscounted")
    if at_most and any(size > at_most for size in Counter(v.on for v in plan.visits).values()):
        found.append("too many people at one session")
    return found


def best_by_trying(needs: Sequence[Need], days: Sequence[date], per_vial: int) -> tuple[int, int]:
    """Fewest vials, then fewest sessions, over every combination of dates of everybody."""
    choices = []
    for need in needs:
        fitting = [
            chosen
            for chosen in combinations(sorted(days), len(need.doses))
            if chosen[0] >= need.first_from
            and chosen[-1] <= need.last_on
            and all(
                (after - before).days >= dose.gap
                for before, after, dose in zip(chosen, chosen[1:], need.doses[1:], strict=False)
            )
        ]
        choices.append(fitting)
    scores = []
    for together in product(*choices):
        per_day: Counter[date] = Counter()
        for need, chosen in zip(needs, together, strict=True):
            for day, dose in zip(chosen, need.doses, strict=True):
                per_day[day] += dose.injections
        scores.append((sum(ceil(count / per_vial) for count in per_day.values()), len(per_day)))
    return min(scores)
