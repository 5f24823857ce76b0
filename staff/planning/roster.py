"""Who goes out with which crew: most crews complete, then most places filled, then wishes, then even shares.

Places of one role on one day are alike, so the solver decides only who does what on which day; the crews are dealt out
afterwards, complete ones first and people by choice with the crew they were with the day before.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import islice
from typing import TYPE_CHECKING

from staff.ground.lazily import at_first_use
from staff.planning.roster_values import Candidate, Filled, OpenCrew, ProposedRoster
from staff.rules.outing.rest_days import RestRules, misses_day_off

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = sys.modules.get("ortools.sat.python.cp_model") or at_first_use("ortools.sat.python.cp_model")

# Counted work for each aim, about a second each: the same question has the same answer on a busy machine.
EFFORT = 1.0
# A day somebody would rather not weighs as two days somebody would like: decided here.
RATHER_NOT, GLADLY = 2, 1


def plan_roster(
    *, crews: Sequence[OpenCrew], people: Sequence[Candidate], rest: RestRules, effort: float = EFFORT
) -> ProposedRoster:
    """Fill the open places; always with some plan, `proven` when none is better."""
    wanted = sorted(
        (crew for crew in crews if any(crew.lacks.values())), key=lambda crew: (crew.day, crew.key)
    )
    model = _Model(wanted, sorted(people, key=lambda one: one.key), rest)
    proven = model.solve(effort)
    filled = deal(wanted, model.chosen(), model.complete_crews())
    lacks = {crew.key: _left(crew, filled) for crew in wanted}
    return ProposedRoster(tuple(sorted(filled)), {key: left for key, left in lacks.items() if left}, proven)


def _left(crew: OpenCrew, filled: Iterable[Filled]) -> dict[str, int]:
    got = Counter(place.role for place in filled if place.crew == crew.key)
    return {role: number - got[role] for role, number in crew.lacks.items() if number > got[role]}


class _Model:
    """Who does which role on which day, as booleans; the aims are solved one after the other."""

    def __init__(self, crews: Sequence[OpenCrew], people: Sequence[Candidate], rest: RestRules) -> None:
        self.model, self.solver = cp_model.CpModel(), cp_model.CpSolver()
        self.crews, self.people, self.rest = crews, people, rest
        self.open: dict[tuple[date, str], int] = defaultdict(int)
        for crew in crews:
            for role, number in crew.lacks.items():
                self.open[crew.day, role] += number
        self.days = sorted({crew.day for crew in crews})
        self.does: dict[tuple[int, date, str], cp_model.IntVar] = {}
        self.by_place: dict[tuple[date, str], list[cp_model.IntVar]] = defaultdict(list)
        self.by_day: dict[tuple[int, date], list[cp_model.IntVar]] = defaultdict(list)
        for one in people:
            self._person(one)
        for place, number in self.open.items():
            self.model.add(sum(self.by_place[place]) <= number)
        self.complete = {crew.key: self.model.new_bool_var(f"complete_{crew.key}") for crew in crews}
        self._crews()
        self.values: dict[cp_model.IntVar, int] = {}

    def _person(self, one: Candidate) -> None:
        for day in self.days:
            if day not in one.free or day in one.out:
                continue
            for role in sorted(one.roles):
                if self.open.get((day, role)):
                    does = self.model.new_bool_var(f"p{one.key}_{day}_{role}")
                    self.does[one.key, day, role] = does
                    self.by_place[day, role].append(does)
                    self.by_day[one.key, day].append(does)
            if self.by_day[one.key, day]:
                self.model.add_at_most_one(self.by_day[one.key, day])
        self._rest(one)

    def _rest(self, one: Candidate) -> None:
        """After `longest_run` days in a row each of the next `rest_days` is off."""
        if not self.days:
            return
        for days in self.rest.windows(self.days[0] - self.rest.reach, self.days[-1]):
            own = [does for day in days for does in self.by_day.get((one.key, day), ())]
            if own:
                # Chosen by hand, the others may break the rule already; then nothing is added to it.
                self.model.add(sum(own) + sum(day in one.out for day in days) < len(days))

    def _crews(self) -> None:
        """A crew is complete when its lack is met; who is there is shared by the complete crews of the day."""
        for (day, role), doing in list(self.by_place.items()):
            if (day, role) in self.open:
                needs = [
                    crew.lacks.get(role, 0) * self.complete[crew.key]
                    for crew in self.crews
                    if crew.day == day
                ]
                self.model.add(sum(needs) <= sum(doing))

    def _start(self) -> set[cp_model.IntVar]:
        """A plan that is easily found, so that there is one however many people and days there are: crew by crew, whoever
        has the fewest days and crew roles."""
        out = {one.key: set(one.out) for one in self.people}
        days: Counter[int] = Counter()
        start: set[cp_model.IntVar] = set()
        for crew in self.crews:
            whole = True
            for role, number in crew.lacks.items():
                able = sorted(
                    (one for one in self.people if (one.key, crew.day, role) in self.does),
                    key=lambda one: (days[one.key], len(one.roles), one.key),
                )
                fit = (
                    one
                    for one in able
                    if crew.day not in out[one.key] and not misses_day_off(out[one.key], crew.day, self.rest)
                )
                taken = list(islice(fit, number))
                whole = whole and len(taken) == number
                for one in taken:
                    out[one.key].add(crew.day)
                    days[one.key] += 1
                    start.add(self.does[one.key, crew.day, role])
            if whole:
                start.add(self.complete[crew.key])
        return start

    def _incomplete(self) -> cp_model.LinearExprT:
        return -sum(self.complete.values())

    def _unfilled(self) -> cp_model.LinearExprT:
        return -sum(self.does.values())

    def _wishes(self) -> cp_model.LinearExprT:
        terms: list[cp_model.LinearExprT] = [0]
        for one in self.people:
            terms += [
                RATHER_NOT * does for day in one.rather_not for does in self.by_day.get((one.key, day), ())
            ]
            terms += [-GLADLY * does for day in one.gladly for does in self.by_day.get((one.key, day), ())]
        return sum(terms)

    def _shares(self) -> cp_model.LinearExprT:
        """1 for anybody's first day, 2 for the second and so on: least when the days are shared out evenly."""
        cost: list[cp_model.LinearExprT] = [0]
        for one in self.people:
            own = [does for day in self.days for does in self.by_day.get((one.key, day), ())]
            if not own:
                continue
            held = len([day for day in one.out if self.days[0] <= day <= self.days[-1]])
            has = sum(self.values.get(does, 0) for does in own)
            steps = [self.model.new_bool_var(f"n{one.key}_{number}") for number in range(len(self.days))]
            self.model.add(sum(steps) == sum(own))
            for before, after in zip(steps, steps[1:], strict=False):
                self.model.add_implication(after, before)
            for number, step in enumerate(steps):
                self.model.add_hint(step, number < has)
                cost.append((held + number + 1) * step)
        return sum(cost)

    def solve(self, effort: float) -> bool:
        """Solve for each aim in turn, keeping what the earlier ones reached. True when each is proven best."""
        if not self.does:
            return True
        parameters = self.solver.parameters
        parameters.max_deterministic_time, parameters.num_workers, parameters.random_seed = effort, 1, 315
        # It would take Ctrl-C over and leave it to kill the process: `up` then leaves its children behind.
        parameters.catch_sigint_signal = False
        proven = True
        start = self._start()
        for variable in (*self.does.values(), *self.complete.values()):
            self.values[variable] = int(variable in start)
            self.model.add_hint(variable, self.values[variable])
        # Each is put down only when its turn comes: what counts the shares slows the first aims down.
        for write in (self._incomplete, self._unfilled, self._wishes, self._shares):
            aim = write()
            self.model.minimize(aim)
            status = self.solver.solve(self.model)
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                # What it began from, or what the aims before reached, is a plan too.
                return False
            proven = proven and status == cp_model.OPTIMAL
            self.model.add(aim <= round(self.solver.objective_value))
            self.model.clear_hints()  # type: ignore[no-untyped-call]
            for variable in (*self.does.values(), *self.complete.values()):
                self.values[variable] = self.solver.value(variable)
                self.model.add_hint(variable, self.values[variable])
        return proven

    def chosen(self) -> dict[tuple[date, str], list[int]]:
        """People by day and role."""
        by_place: dict[tuple[date, str], list[int]] = defaultdict(list)
        for (person, day, role), does in self.does.items():
            if self.values.get(does):
                by_place[day, role].append(person)
        return by_place

    def complete_crews(self) -> frozenset[int]:
        return frozenset(key for key, complete in self.complete.items() if self.values.get(complete))


def deal(
    crews: Sequence[OpenCrew], chosen: Mapping[tuple[date, str], Sequence[int]], complete: frozenset[int]
) -> list[Filled]:
    """Give the people of each day and role to its crews, `complete` ones first, who stays with a lane where possible."""
    pools = {place: list(people) for place, people in chosen.items()}
    last_lane: dict[int, str] = {}
    filled: list[Filled] = []
    for crew in sorted(
        crews, key=lambda crew: (crew.day, crew.key not in complete, sum(crew.lacks.values()), crew.key)
    ):
        for role, number in crew.lacks.items():
            pool = pools.get((crew.day, role), [])
            pool.sort(key=lambda person: (last_lane.get(person) != crew.lane, person))
            for person in pool[:number]:
                filled.append(Filled(crew.day, crew.key, role, person))
                last_lane[person] = crew.lane
            del pool[:number]
    return filled
