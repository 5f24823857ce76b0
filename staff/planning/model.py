"""The plan of sessions as counts under constraints, for the solver."""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from staff.ground.lazily import at_first_use
from staff.planning.values import Need, Visit, earliest_dates, vials_needed

if TYPE_CHECKING:
    from ortools.sat.python import cp_model
else:
    cp_model = sys.modules.get("ortools.sat.python.cp_model") or at_first_use("ortools.sat.python.cp_model")


class Group:
    """People who are alike: `counts[k][day]` is how many take their k-th missing dose on that day."""

    def __init__(self, people: Sequence[Need], days: Sequence[date]) -> None:
        self.people = people
        self.doses = people[0].doses
        self.days = [
            day for day in days if max(n.first_from for n in people) <= day <= min(n.last_on for n in people)
        ]
        self.counts: list[dict[date, cp_model.IntVar]] = []

    def build(self, model: cp_model.CpModel, name: str, left: cp_model.IntVar) -> None:
        size = len(self.people)
        for dose in self.doses:
            counts = {day: model.new_int_var(0, size, f"{name}_{dose.number}_{day}") for day in self.days}
            model.add(sum(counts.values()) + left == size)
            self.counts.append(counts)
        for before, after, dose in zip(self.counts, self.counts[1:], self.doses[1:], strict=False):
            for day in self.days:
                had = [n for other, n in before.items() if (day - other).days >= max(1, dose.gap)]
                model.add(sum(n for other, n in after.items() if other <= day) <= sum(had))

    def deal(self, value: Callable[[cp_model.IntVar], int]) -> list[Visit]:
        """The counts dealt out in the order of keys: who is first for one dose is first for the next."""
        visits: list[Visit] = []
        for dose, counts in zip(self.doses, self.counts, strict=True):
            dates = [day for day in self.days for _each in range(value(counts[day]))]
            visits += [
                Visit(need.key, dose.number, day, dose.injections)
                for need, day in zip(self.people, dates, strict=False)
            ]
        return visits


class Model:
    """The constraints, and the aims solved one after the other."""

    def __init__(self, groups: Sequence[Group], injections_per_vial: int, people_at_most: int | None) -> None:
        self.groups, self.per_vial, self.limit = groups, injections_per_vial, people_at_most
        self.model, self.solver = cp_model.CpModel(), cp_model.CpSolver()
        self.left_out: list[cp_model.IntVar] = []
        for number, group in enumerate(groups):
            left = self.model.new_int_var(0, len(group.people) if self.limit else 0, f"left_{number}")
            group.build(self.model, f"g{number}", left)
            self.left_out.append(left)
        self.vials: dict[date, cp_model.IntVar] = {}
        self.used: dict[date, cp_model.IntVar] = {}
        for day in sorted({day for group in groups for day in group.days}):
            self._day(day)

    def _day(self, day: date) -> None:
        expected = [
            (dose.injections, counts[day], len(group.people))
            for group in self.groups
            for dose, counts in zip(group.doses, group.counts, strict=True)
            if day in counts
        ]
        everybody = sum(len(group.people) for group in self.groups)
        used = self.model.new_bool_var(f"used_{day}")
        self.model.add(
            sum(count for _each, count, _size in expected) <= min(self.limit or everybody, everybody) * used
        )
        largest = sum(injections * size for injections, _count, size in expected)
        vials = self.model.new_int_var(0, vials_needed(largest, self.per_vial), f"vials_{day}")
        self.model.add(
            self.per_vial * vials >= sum(injections * count for injections, count, _size in expected)
        )
        self.model.add(vials >= used)
        self.vials[day], self.used[day] = vials, used

    def solve(self, effort: float) -> bool:
        """Solve for each aim in turn, keeping what the earlier ones reached. True when each is proven best."""
        if not self.groups:
            return True
        self._start()
        self.solver.parameters.max_deterministic_time = effort
        self.solver.parameters.num_workers = 1
        self.solver.parameters.random_seed = 315
        # It would take Ctrl-C over and leave it to kill the process: `up` then leaves its children behind.
        self.solver.parameters.catch_sigint_signal = False
        aims: list[cp_model.LinearExprT] = [
            *([sum(self.left_out)] if self.limit else []),
            sum(self.vials.values()),
            sum(self.used.values()),
            self._lateness(),
        ]
        proven = True
        for goal in aims:
            self.model.minimize(goal)
            status = self.solver.solve(self.model)
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                raise PlanNotFound(self.solver.status_name(status))
            proven = proven and status == cp_model.OPTIMAL
            self.model.add(goal <= round(self.solver.objective_value))
            self._hint({variable: self.solver.value(variable) for variable in self._variables()})
        return proven

    def _variables(self) -> list[cp_model.IntVar]:
        counts = [n for group in self.groups for dose in group.counts for n in dose.values()]
        return [*counts, *self.left_out, *self.vials.values(), *self.used.values()]

    def _start(self) -> None:
        """Begin from a plan that is easily found: everybody as early as can be, or nobody where room is limited."""
        start = dict.fromkeys(self._variables(), 0)
        per_day: dict[date, int] = defaultdict(int)
        for group, left in zip(self.groups, self.left_out, strict=True):
            dates = earliest_dates(group.doses, group.days)
            if self.limit or dates is None:
                start[left] = len(group.people)
                continue
            for dose, counts, day in zip(group.doses, group.counts, dates, strict=True):
                start[counts[day]] = len(group.people)
                per_day[day] += dose.injections * len(group.people)
        for day, injections in per_day.items():
            start[self.vials[day]], start[self.used[day]] = vials_needed(injections, self.per_vial), 1
        self._hint(start)

    def _hint(self, values: Mapping[cp_model.IntVar, int]) -> None:
        """Begin the next search from what is known, so that it can only get better."""
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for variable, value in values.items():
            self.model.add_hint(variable, value)

    def _lateness(self) -> cp_model.LinearExprT:
        """Days from the first possible session to each person's last dose: room for whoever misses one."""
        first = min(self.used)
        return sum((day - first).days * n for group in self.groups for day, n in group.counts[-1].items())

    def visits(self) -> tuple[tuple[Visit, ...], tuple[int, ...]]:
        """Everybody's visits, and who is left without room."""
        placed = [visit for group in self.groups for visit in group.deal(self.solver.value)]
        everybody = {need.key for group in self.groups for need in group.people}
        no_room = everybody - {visit.key for visit in placed}
        return tuple(sorted(placed, key=lambda visit: (visit.on, visit.key))), tuple(sorted(no_room))


class PlanNotFound(Exception):
    """The time ran out before any plan was found; the text is the solver's state."""
