"""The proposal of a roster against a checker of its own, and against trying every roster on small cases."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import pytest

from staff.planning.roster import plan_roster
from staff.planning.roster_values import Candidate, OpenCrew
from staff.rules.outing.rest_days import RestRules
from tests.staff.planning.roster_checks import best_by_trying, faults, score, tired

FIRST = date(2028, 2, 26)  # over a leap day
ROLES = ("catcher", "vaccinator", "recorder", "driver", "lead")
WEEKLY = RestRules(longest_run=6, rest_days=1)


def days(*numbers: int) -> frozenset[date]:
    return frozenset(FIRST + timedelta(days=number) for number in numbers)


def crew(key: int, day: int, lane: str = "market", **lacks: int) -> OpenCrew:
    return OpenCrew(key, FIRST + timedelta(days=day), lane, lacks)


def somebody(
    key: int, *roles: str, free: frozenset[date] | None = None, **more: frozenset[date]
) -> Candidate:
    return Candidate(key, frozenset(roles), days(*range(20)) if free is None else free, **more)


def small(rng: Random) -> tuple[list[OpenCrew], list[Candidate], RestRules]:
    """At most five places and four people: every roster can be tried."""
    crews, places = [], 0
    for key in range(1, 5):
        lacks = dict.fromkeys(rng.sample(ROLES[:3], rng.choice((1, 1, 2))), 1)
        if places + sum(lacks.values()) > 5:
            break
        places += sum(lacks.values())
        crews.append(crew(key, rng.randrange(3), **lacks))
    people = [
        somebody(
            key,
            *rng.sample(ROLES[:3], rng.choice((1, 2))),
            free=days(*rng.sample(range(3), rng.choice((1, 2, 3)))),
            out=days(*rng.sample(range(-2, 4), rng.choice((0, 0, 1, 2)))),
            rather_not=days(*rng.sample(range(3), rng.choice((0, 1)))),
            gladly=days(*rng.sample(range(3), rng.choice((0, 1)))),
        )
        for key in range(1, rng.choice((3, 4, 5)))
    ]
    return crews, people, RestRules(rng.choice((1, 2, 3)), rng.choice((1, 2)))


@pytest.mark.parametrize("seed", range(60))
def test_nothing_is_better_than_what_is_proposed(seed: int) -> None:
    crews, people, rest = small(Random(seed))
    plan = plan_roster(crews=crews, people=people, rest=rest)
    assert faults(plan, crews, people, rest) == []
    assert plan.proven
    assert score(plan.filled, crews, people) == best_by_trying(crews, people, rest)


@pytest.mark.parametrize("seed", range(3))
def test_a_large_proposal_keeps_every_rule(seed: int) -> None:
    rng = Random(seed)
    crews = [crew(14 * lane + day, day, f"lane {lane}", catcher=2, vaccinator=1, recorder=1)
             for lane in range(4) for day in range(14)]  # fmt: skip
    people = [
        somebody(
            key,
            *rng.sample(ROLES, rng.choice((1, 2, 3))),
            free=days(*rng.sample(range(14), rng.randrange(4, 15))),
            out=days(*rng.sample(range(-3, 17), rng.randrange(4))),
        )
        for key in range(30)
    ]
    plan = plan_roster(crews=crews, people=people, rest=WEEKLY, effort=0.2)
    assert faults(plan, crews, people, WEEKLY) == []
    assert plan.filled
    assert plan_roster(crews=crews[::-1], people=people[::-1], rest=WEEKLY, effort=0.2) == plan


def test_few_people_make_one_crew_complete_and_not_two_halves() -> None:
    crews = [crew(1, 0, catcher=1, vaccinator=1), crew(2, 0, catcher=1, vaccinator=1)]
    plan = plan_roster(crews=crews, people=[somebody(1, "catcher"), somebody(2, "vaccinator")], rest=WEEKLY)
    (complete,) = {place.crew for place in plan.filled}
    assert plan.open == {3 - complete: {"catcher": 1, "vaccinator": 1}}


def test_who_can_do_two_things_does_the_one_that_is_short() -> None:
    people = [somebody(1, "catcher", "vaccinator"), somebody(2, "catcher")]
    plan = plan_roster(crews=[crew(1, 0, catcher=1, vaccinator=1)], people=people, rest=WEEKLY)
    assert {(place.role, place.person) for place in plan.filled} == {("vaccinator", 1), ("catcher", 2)}


@pytest.mark.parametrize(("run", "worked"), [(6, 12), (2, 10), (14, 14)])
def test_a_day_off_follows_the_longest_run(run: int, worked: int) -> None:
    rest = RestRules(run, 1)
    crews = [crew(day + 1, day, catcher=1) for day in range(14)]
    plan = plan_roster(crews=crews, people=[somebody(1, "catcher")], rest=rest)
    # By hand: blocks of `run` days with one day off between them, over 14 days.
    assert len(plan.filled) == worked
    assert faults(plan, crews, [somebody(1, "catcher")], rest) == []


def test_what_was_worked_before_the_first_day_counts() -> None:
    tired_one = somebody(1, "catcher", out=days(-6, -5, -4, -3, -2, -1))
    crews = [crew(1, 0, catcher=1), crew(2, 1, catcher=1)]
    plan = plan_roster(crews=crews, people=[tired_one], rest=WEEKLY)
    assert [place.crew for place in plan.filled] == [2]
    fresh = somebody(1, "catcher", out=days(-6, -5, -4, -3, -2))
    assert len(plan_roster(crews=crews[:1], people=[fresh], rest=WEEKLY).filled) == 1


def test_a_rule_that_a_hand_broke_before_costs_nobody_another_day() -> None:
    overdone = somebody(1, "catcher", out=days(*range(8)))
    plan = plan_roster(crews=[crew(1, 12, catcher=1)], people=[overdone], rest=WEEKLY)
    assert len(plan.filled) == 1


def test_wishes_decide_only_between_equally_full_rosters() -> None:
    unwilling = somebody(1, "catcher", rather_not=days(0))
    assert len(plan_roster(crews=[crew(1, 0, catcher=1)], people=[unwilling], rest=WEEKLY).filled) == 1
    willing = somebody(2, "catcher", gladly=days(0))
    plan = plan_roster(crews=[crew(1, 0, catcher=1)], people=[unwilling, willing], rest=WEEKLY)
    assert [place.person for place in plan.filled] == [2]


def test_days_are_shared_out_evenly_with_those_already_out() -> None:
    crews = [crew(day + 1, day, catcher=1) for day in range(6)]
    people = [somebody(1, "catcher", out=days(7, 9, 11, 13)), somebody(2, "catcher"), somebody(3, "catcher")]
    plan = plan_roster(crews=[*crews, crew(99, 14, driver=1)], people=people, rest=WEEKLY)
    assert sorted(place.person for place in plan.filled) == [2, 2, 2, 3, 3, 3]


def test_a_crew_stays_together_where_nothing_else_speaks_against_it() -> None:
    crews = [crew(10 * day + lane, day, f"lane {lane}", catcher=1) for day in range(3) for lane in (1, 2)]
    plan = plan_roster(crews=crews, people=[somebody(1, "catcher"), somebody(2, "catcher")], rest=WEEKLY)
    assert all(len({p.crew % 10 for p in plan.filled if p.person == one}) == 1 for one in (1, 2))


def test_nobody_and_nothing_are_answered_too() -> None:
    assert plan_roster(crews=[], people=[], rest=WEEKLY).filled == ()
    assert plan_roster(crews=[crew(1, 0, catcher=2)], people=[], rest=WEEKLY).open == {1: {"catcher": 2}}


def test_the_checker_sees_a_missing_day_off() -> None:
    assert list(tired(set(days(*range(7))), frozenset(), WEEKLY))
    assert not list(tired(set(days(*range(6))), frozenset(), WEEKLY))
