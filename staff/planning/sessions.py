"""Which people come to which vaccination session: fewest vials, then fewest sessions, then as early as possible.

People with the same missing doses and the same room in the calendar are alike, so the solver counts people on
each itinerary (a date for each missing dose) instead of placing them one by one: 200 people are no harder than 20.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ortools.sat.python import cp_model

# Work for each aim, in the solver's own units (about a second): counted work, not time, so that the same question
# has the same answer on a busy machine. What is found by then is used and said to be unproven.
EFFORT = 1.5


@dataclass(frozen=True)
class MissingDose:
    """`gap`: days at least after the dose before it, as the regimen asks."""

    number: int
    gap: int
    injections: int = 1


@dataclass(frozen=True)
class Need:
    """Doses one person lacks: the first not before `first_from`, the last not after `last_on`."""

    key: int
    doses: tuple[MissingDose, ...]
    first_from: date
    last_on: date


@dataclass(frozen=True)
class Visit:
    key: int
    number: int
    on: date
    injections: int


@dataclass(frozen=True)
class Plan:
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


Itinerary = tuple[date, ...]


def vials_needed(injections: int, injections_per_vial: int) -> int:
    """Whole vials for so many injections at one session; what is left in the last is thrown away."""
    return -(-injections // injections_per_vial)


def plan_sessions(
    *,
    needs: Sequence[Need],
    days: Sequence[date],
    injections_per_vial: int,
    people_at_most: int | None = None,
    effort: float = EFFORT,
) -> Plan:
    """Place every need on `days`. Objectives in order: most people, fewest vials, fewest sessions, earliest end.

    `people_at_most` limits one session. Needs without a missing dose are left out.
    """
    wanted = [need for need in needs if need.doses]
    open_to = {need.key: tuple(itineraries(need, sorted(set(days)))) for need in wanted}
    groups: dict[tuple[object, ...], list[Need]] = defaultdict(list)
    for need in wanted:
        if open_to[need.key]:
            groups[(need.doses, open_to[need.key])].append(need)
    model = _Model(
        [(group, open_to[group[0].key]) for group in groups.values()], injections_per_vial, people_at_most
    )
    proven = model.solve(effort)
    visits, no_room = model.visits()
    return Plan(
        visits=visits,
        vials=_vials(visits, injections_per_vial),
        vials_one_by_one=sum(vials_needed(visit.injections, injections_per_vial) for visit in visits),
        no_day=tuple(need.key for need in wanted if not open_to[need.key]),
        no_room=no_room,
        proven=proven,
    )


def itineraries(need: Need, days: Sequence[date]) -> Iterator[Itinerary]:
    """Every choice of `days` (in order) that keeps the gaps, the first possible date and the last."""

    def extend(chosen: Itinerary) -> Iterator[Itinerary]:
        if len(chosen) == len(need.doses):
            yield chosen
            return
        gap = need.doses[len(chosen)].gap
        for day in days:
            fits = (day - chosen[-1]).days >= max(1, gap) if chosen else day >= need.first_from
            if fits and day <= need.last_on:
                yield from extend((*chosen, day))

    return extend(())


def _vials(visits: Iterable[Visit], injections_per_vial: int) -> int:
    given: dict[date, int] = defaultdict(int)
    for visit in visits:
        given[visit.on] += visit.injections
    return sum(vials_needed(count, injections_per_vial) for count in given.values())


class _Model:
    def __init__(
        self,
        groups: Sequence[tuple[Sequence[Need], Sequence[Itinerary]]],
        injections_per_vial: int,
        people_at_most: int | None,
    ) -> None:
        self.groups, self.per_vial, self.limit = groups, injections_per_vial, people_at_most
        self.model, self.solver = cp_model.CpModel(), cp_model.CpSolver()
        self.counts: list[dict[Itinerary, cp_model.IntVar]] = []
        self.left_out: list[cp_model.IntVar] = []
        self._people()
        self._days()

    def _people(self) -> None:
        for number, (people, choices) in enumerate(self.groups):
            size = len(people)
            counts = {
                choice: self.model.new_int_var(0, size, f"g{number}_{index}")
                for index, choice in enumerate(choices)
            }
            left = self.model.new_int_var(0, size if self.limit else 0, f"left_{number}")
            self.model.add(sum(counts.values()) + left == size)
            self.counts.append(counts)
            self.left_out.append(left)

    def _days(self) -> None:
        people: Mapping[date, list[cp_model.IntVar]] = defaultdict(list)
        injections: Mapping[date, list[cp_model.LinearExprT]] = defaultdict(list)
        for (group, _choices), counts in zip(self.groups, self.counts, strict=True):
            for choice, count in counts.items():
                for day, dose in zip(choice, group[0].doses, strict=True):
                    people[day].append(count)
                    injections[day].append(dose.injections * count)
        everybody = sum(len(group) for group, _choices in self.groups)
        self.vials: list[cp_model.IntVar] = []
        self.used: list[cp_model.IntVar] = []
        for day in sorted(people):
            most = min(self.limit or everybody, everybody)
            used = self.model.new_bool_var(f"used_{day}")
            self.model.add(sum(people[day]) <= most * used)
            largest = most * max(dose.injections for group, _c in self.groups for dose in group[0].doses)
            vials = self.model.new_int_var(0, vials_needed(largest, self.per_vial), f"vials_{day}")
            self.model.add(self.per_vial * vials >= sum(injections[day]))
            self.model.add(vials >= used)
            self.vials.append(vials)
            self.used.append(used)

    def solve(self, effort: float) -> bool:
        """Solve for each aim in turn, keeping what the earlier ones reached. True when each is proven best."""
        aims: list[Callable[[], cp_model.LinearExprT]] = [
            lambda: sum(self.left_out),
            lambda: sum(self.vials),
            lambda: sum(self.used),
            self._lateness,
        ]
        if not self.groups:
            return True
        self.solver.parameters.max_deterministic_time = effort
        self.solver.parameters.num_workers = 1
        self.solver.parameters.random_seed = 315
        proven = True
        for aim in aims:
            goal = aim()
            self.model.minimize(goal)
            status = self.solver.solve(self.model)
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                raise PlanNotFound(self.solver.status_name(status))
            proven = proven and status == cp_model.OPTIMAL
            self.model.add(goal <= round(self.solver.objective_value))
            self._hint()
        return proven

    def _hint(self) -> None:
        """Begin the next search from what was found, so that it can only get better."""
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        every = [count for counts in self.counts for count in counts.values()]
        for variable in (*every, *self.left_out, *self.vials, *self.used):
            self.model.add_hint(variable, self.solver.value(variable))

    def _lateness(self) -> cp_model.LinearExprT:
        """Days from the first session to each person's last dose: room for whoever misses one."""
        ends = [choice[-1] for counts in self.counts for choice in counts]
        return sum(
            (choice[-1] - min(ends)).days * count
            for counts in self.counts
            for choice, count in counts.items()
        )

    def visits(self) -> tuple[tuple[Visit, ...], tuple[int, ...]]:
        """People dealt out to the counts, in the order of their keys; the last of a group are left without room."""
        placed: list[Visit] = []
        no_room: list[int] = []
        for (people, _choices), counts in zip(self.groups, self.counts, strict=True):
            waiting = sorted(people, key=lambda need: need.key)
            for choice, count in counts.items():
                for _each in range(self.solver.value(count)):
                    need = waiting.pop(0)
                    placed += [
                        Visit(need.key, dose.number, day, dose.injections)
                        for dose, day in zip(need.doses, choice, strict=True)
                    ]
            no_room += [need.key for need in waiting]
        return tuple(sorted(placed, key=lambda visit: (visit.on, visit.key))), tuple(sorted(no_room))


class PlanNotFound(Exception):
    """The time ran out before any plan was found; the text is the solver's state."""
