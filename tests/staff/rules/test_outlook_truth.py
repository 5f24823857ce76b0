"""The date somebody is told is true: done as advised, they are clear on it, and were not the day before."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from staff.rules.record.clearance import evaluate_clearance
from staff.rules.record.facts import (
    BriefingFact,
    ClearanceRules,
    HoldFact,
    LetterFact,
    PersonFacts,
    TitreFact,
)
from staff.rules.record.first_clear import first_clear
from staff.rules.record.missing import Action, ActionKind
from staff.rules.record.outlook import Way
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route, Step

TODAY = date(2024, 2, 20)
IM, ID = frozenset({Route.IM}), frozenset({Route.ID})


def regimen(code: str, routes: frozenset[Route], *steps: tuple[int, int, bool]) -> Regimen:
    rows = tuple(
        Step(n, day, day + 7, gap, later=later) for n, (day, gap, later) in enumerate(steps, start=1)
    )
    return Regimen(code, 1, Purpose.PRE_EXPOSURE, routes, rows)


# Days 0, 7, 21 with gaps 7 and 14 (CDSi 4.64); days 0, 3, 7 and one at a year (UK, Green Book chapter 27).
SLOW = regimen("slow", IM, (0, 0, False), (7, 7, False), (21, 14, False))
SLOW_ID = regimen("slow-id", ID, (0, 0, False), (7, 7, False), (21, 14, False))
FAST = regimen("fast", IM, (0, 0, False), (3, 3, False), (7, 4, False), (365, 300, True))
TWO = regimen("two", IM, (0, 0, False), (7, 7, False))
LATE = regimen("late", IM, (0, 0, False), (7, 7, False), (28, 14, False))
COURSE = Regimen(
    "course",
    1,
    Purpose.POST_EXPOSURE,
    IM,
    tuple(Step(n, day, day, 0 if n == 1 else 3) for n, day in enumerate((0, 3, 7, 14), start=1)),
)


def a_record(chance: random.Random) -> PersonFacts:
    def days(most: int, first: int, last: int = 0) -> list[date]:
        picked = chance.sample(range(first, last + 1), chance.randrange(most + 1))
        return [TODAY + timedelta(days=offset) for offset in picked]

    near, far = days(3, -40), days(4, -1200, -41)
    doses = [
        DoseFact(
            day,
            route=chance.choice((Route.IM, Route.IM, Route.ID, None)),
            purpose=chance.choice((Purpose.PRE_EXPOSURE,) * 5 + (Purpose.BOOSTER,)),
            voided=chance.random() < 0.1,
            verified=chance.random() < 0.9,
        )
        for day in (*near, *far)
    ]
    course = chance.choice(([], [], [0, 3, 7], [0, 3, 7, 14]))
    began = TODAY - timedelta(days=chance.randrange(20, 900))
    doses += [
        DoseFact(
            began + timedelta(days=n), purpose=Purpose.POST_EXPOSURE, regimen_code="course", course_key="c"
        )
        for n in course
    ]
    if chance.random() < 0.25:
        # Complete long ago by the regimen that asks for one more at a year, perhaps with that one.
        first = TODAY - timedelta(days=chance.randrange(300, 900))
        doses += [DoseFact(first + timedelta(days=n)) for n in chance.choice(([0, 3, 7], [0, 3, 7, 320]))]
    held = [chance.randrange(-30, 30) for _each in range(chance.randrange(3))]
    weak = chance.random() < 0.1
    return PersonFacts(
        doses=tuple(doses),
        titres=tuple(TitreFact(day, Decimal(chance.choice(("0.4", "0.5", "2")))) for day in days(2, -500)),
        briefings=tuple(BriefingFact(day) for day in days(2, -500)),
        holds=tuple(
            HoldFact(
                TODAY + timedelta(days=start),
                chance.choice((None, *[TODAY + timedelta(days=start + n) for n in (0, 5, 40)])),
                "rest",
            )
            for start in held
        ),
        letters=tuple(LetterFact(day, day + timedelta(days=90), verified=True) for day in days(1, -60)),
        immunocompromised=weak,
        active_from=chance.choice((None, None, TODAY + timedelta(days=chance.randrange(-40, 40)))),
        active_until=chance.choice((None, None, None, TODAY + timedelta(days=chance.randrange(-40, 200)))),
    )


def some_rules(chance: random.Random) -> tuple[ClearanceRules, tuple[Regimen, ...]]:
    rules = ClearanceRules(
        doses_required=chance.choice((2, 3, 3)),
        settling_days=chance.choice((0, 0, 7)),
        recheck_months=chance.choice((0, 1, 6, 24)),
        recheck_once=chance.random() < 0.3,
        lapse_blocks=chance.random() < 0.8,
        briefing_months=chance.choice((None, 0, 1, 12)),
        mixed_routes=chance.random() < 0.5,
        stopped_course_doses=chance.choice((0, 3)),
    )
    table = (SLOW, SLOW_ID, FAST, TWO, LATE)
    return rules, tuple(chance.sample(table, chance.randrange(len(table) + 1)))


def done(facts: PersonFacts, actions: tuple[Action, ...], pick: str, *, by_titre: bool) -> PersonFacts:
    """The record once everything was done on its earliest, or its last, advised day."""
    for action in actions:
        day = getattr(action, pick)
        assert isinstance(day, date) and day >= TODAY
        if action.kind is ActionKind.BRIEFING:
            facts = replace(facts, briefings=(*facts.briefings, BriefingFact(day)))
        elif action.kind is ActionKind.RECHECK and by_titre:
            facts = replace(facts, titres=(*facts.titres, TitreFact(day, Decimal("0.5"))))
        else:
            purpose = Purpose.PRE_EXPOSURE if action.kind is ActionKind.DOSE else Purpose.BOOSTER
            dose = DoseFact(day, purpose=purpose, injections=action.injections)
            facts = replace(facts, doses=(*facts.doses, dose))
    return facts


def answer(facts: PersonFacts, rules: ClearanceRules, table: tuple[Regimen, ...], on: date) -> Way:
    return first_clear(
        facts=facts, rules=rules, pre_exposure=table, post_exposure=(COURSE,), today=TODAY, on=on
    )


@pytest.mark.parametrize("seed", range(1200))
def test_done_as_advised_somebody_is_clear_on_the_date_named_and_not_before(seed: int) -> None:
    chance = random.Random(seed)
    facts, (rules, table) = a_record(chance), some_rules(chance)
    on = TODAY + timedelta(days=chance.choice((0, 0, 0, -30, 1, 29, 60, 400)))
    found = answer(facts, rules, table, on)
    if found.clear_on is None:
        assert any(action.kind is ActionKind.DECISION for action in found.actions)
        return
    assert found.clear_on >= on
    assert not found.decisions
    for pick in ("earliest_on", "last_on"):
        for by_titre in (False, True):
            then = done(facts, found.actions, pick, by_titre=by_titre)
            judged = evaluate_clearance(facts=then, rules=rules, pre_exposure=table, post_exposure=(COURSE,))
            assert judged.covers(found.clear_on), (pick, by_titre)
            if found.clear_on > max(on, TODAY):
                assert not judged.covers(found.clear_on - timedelta(days=1)), (pick, by_titre)
