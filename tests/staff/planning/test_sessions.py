"""Sessions as the solver plans them: gaps kept, vials used well, and no better plan by trying them all."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from datetime import date, timedelta

import pytest

from staff.planning.sessions import MissingDose, Need, ProposedSessions, Visit, plan_sessions, vials_needed
from tests.faults.stage import CHECKOUT
from tests.staff.planning.checks import best_by_trying, faults

MONDAY = date(2026, 3, 2)
# Days 0, 7 and 21: gaps of 7 and 14 (CDSi supporting data 4.64, antigen Rabies).
SERIES = (MissingDose(1, 0), MissingDose(2, 7), MissingDose(3, 14))


def days_from(first: date, *offsets: int) -> list[date]:
    return [first + timedelta(days=offset) for offset in offsets]


def need(key: int, missing: int = 3, first: date = MONDAY, last: date = MONDAY + timedelta(days=40)) -> Need:
    return Need(key, SERIES[3 - missing :], first, last)


def random_needs(chance: random.Random, people: int, room: int = 40) -> list[Need]:
    last = MONDAY + timedelta(days=room)
    return [
        need(key, chance.choice((1, 2, 3, 3)), MONDAY + timedelta(days=chance.randrange(0, 10)), last)
        for key in range(people)
    ]


def test_ten_people_of_one_vial_come_together_three_times() -> None:
    """0.1 mL each from 1 mL: ten injections a vial, so three vials where attendance one by one opens thirty."""
    needs = [need(key) for key in range(10)]
    plan = plan_sessions(needs=needs, days=days_from(MONDAY, *range(0, 41, 2)), injections_per_vial=10)
    assert (plan.vials, plan.vials_one_by_one, len(plan.days)) == (3, 30, 3)
    assert plan.proven
    assert plan.days[0] == MONDAY


def test_day_seven_is_a_gap_of_seven_and_day_six_is_not() -> None:
    exact = plan_sessions(needs=[need(1)], days=days_from(MONDAY, 0, 7, 21), injections_per_vial=10)
    early = plan_sessions(needs=[need(1)], days=days_from(MONDAY, 0, 6, 21), injections_per_vial=10)
    assert [visit.on for visit in exact.visits] == days_from(MONDAY, 0, 7, 21)
    assert (early.visits, early.no_day) == ((), (1,))


def test_the_last_dose_may_fall_on_the_last_day_and_not_after_it() -> None:
    days = days_from(MONDAY, 0, 7, 21)
    for room, placed in ((20, False), (21, True), (22, True)):
        one = need(1, last=MONDAY + timedelta(days=room))
        assert bool(plan_sessions(needs=[one], days=days, injections_per_vial=10).visits) is placed


def test_into_the_muscle_a_vial_serves_one_and_only_the_sessions_are_fewer() -> None:
    plan = plan_sessions(
        needs=[need(key) for key in range(7)], days=days_from(MONDAY, *range(30)), injections_per_vial=1
    )
    assert (plan.vials, plan.vials_one_by_one, len(plan.days)) == (21, 21, 3)


def test_a_visit_of_two_injections_counts_twice_against_the_vial() -> None:
    """WHO 2018 has two injections into the skin at a visit."""
    twice = tuple(MissingDose(dose.number, dose.gap, 2) for dose in SERIES)
    needs = [Need(key, twice, MONDAY, MONDAY + timedelta(days=40)) for key in range(6)]
    plan = plan_sessions(needs=needs, days=days_from(MONDAY, 0, 7, 21), injections_per_vial=10)
    assert plan.vials == 3 * vials_needed(12, 10) == 6
    assert not faults(plan, needs, days_from(MONDAY, 0, 7, 21), 10)


def test_who_finds_no_room_is_named_and_everybody_else_is_placed() -> None:
    needs = [need(key) for key in range(5)]
    days = days_from(MONDAY, 0, 7, 21)
    plan = plan_sessions(needs=needs, days=days, injections_per_vial=10, people_at_most=3)
    assert len(plan.no_room) == 2
    assert not faults(plan, needs, days, 10, 3)


def test_who_lacks_nothing_is_left_out_and_no_day_at_all_is_said() -> None:
    nothing = Need(1, (), MONDAY, MONDAY)
    assert plan_sessions(needs=[nothing], days=[MONDAY], injections_per_vial=5).visits == ()
    assert plan_sessions(needs=[need(2)], days=[], injections_per_vial=5).no_day == (2,)


@pytest.mark.parametrize("seed", range(25))
def test_no_better_plan_exists_among_all_of_them(seed: int) -> None:
    chance = random.Random(seed)
    needs = random_needs(chance, chance.randrange(1, 5), room=30)
    days = sorted(set(days_from(MONDAY, *(chance.randrange(0, 31) for _each in range(7)))) | {MONDAY})
    per_vial = chance.choice((1, 2, 3, 5))
    plan = plan_sessions(needs=needs, days=days, injections_per_vial=per_vial)
    assert not faults(plan, needs, days, per_vial)
    placed = [one for one in needs if one.key not in plan.no_day]
    assert plan.proven
    if placed:
        assert (plan.vials, len(plan.days)) == best_by_trying(placed, days, per_vial)


@pytest.mark.parametrize("people", [20, 60, 200])
def test_a_plan_of_a_whole_team_keeps_every_rule(people: int) -> None:
    """The time is printed and shown in the report of the run; nothing here depends on it but the solver's limit."""
    needs = random_needs(random.Random(people), people, room=60)
    days = [day for day in days_from(MONDAY, *range(61)) if day.weekday() in (1, 4)]
    began = time.perf_counter()
    plan = plan_sessions(needs=needs, days=days, injections_per_vial=10)
    print(
        f"{people} people: {time.perf_counter() - began:.2f} s, {plan.vials} vials, {len(plan.days)} sessions,"
    )
    print(f"{plan.vials_one_by_one} vials one by one, proven best: {plan.proven}")
    assert not faults(plan, needs, days, 10)
    assert not plan.no_day and not plan.no_room
    lowest = vials_needed(sum(len(one.doses) for one in needs), 10)
    assert lowest <= plan.vials < plan.vials_one_by_one


def test_the_same_question_has_the_same_answer() -> None:
    """The planner keeps exactly what was shown, even where the solver stops before it has proven its plan best."""
    needs = random_needs(random.Random(60), 60, room=60)
    days = [day for day in days_from(MONDAY, *range(61)) if day.weekday() in (1, 4)]
    plans = [plan_sessions(needs=needs, days=days, injections_per_vial=10) for _each in range(2)]
    assert plans[0] == plans[1]


def test_the_checker_finds_what_is_wrong() -> None:
    """A plan that breaks each rule is caught, so an empty list of faults means something."""
    needs = [need(1), need(2), need(3)]
    visits = (
        Visit(1, 1, MONDAY, 1),
        Visit(1, 2, MONDAY + timedelta(days=6), 1),
        Visit(1, 3, MONDAY + timedelta(days=60), 1),
        Visit(2, 1, MONDAY, 1),
    )
    wrong = faults(ProposedSessions(visits, 9, 9, (), (), True), needs, [MONDAY], 10, 1)
    assert len(wrong) == 7


CTRL_C_AFTER_A_PLAN = """
import os, signal
from datetime import date
from staff.planning.sessions import MissingDose, Need, plan_sessions
monday = date(2026, 3, 2)
assert plan_sessions(needs=[Need(1, (MissingDose(1, 0),), monday, monday)], days=[monday], injections_per_vial=1).visits
try:
    os.kill(os.getpid(), signal.SIGINT)
    signal.pause()
except KeyboardInterrupt:
    print("asked to stop")
"""


def test_a_plan_leaves_ctrl_c_to_the_program() -> None:
    """The solver can take the signal over and hand it to nobody: the launcher then dies and its children don't."""
    ended = subprocess.run(
        [sys.executable, "-c", CTRL_C_AFTER_A_PLAN], cwd=CHECKOUT, capture_output=True, text=True, timeout=60
    )
    assert (ended.returncode, ended.stdout.strip()) == (0, "asked to stop"), ended.stderr
