"""What would make somebody clear, and when at the earliest; the last days that still lead to a start."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

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
from staff.rules.record.missing import ActionKind
from staff.rules.record.outlook import Way, earliest_clear
from staff.rules.record.reasons import ReasonCode
from staff.rules.record.series import evaluate_series
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route, Step

TODAY = date(2026, 3, 2)


def regimen(code: str, *days_and_gaps: tuple[int, int]) -> Regimen:
    steps = tuple(Step(n, day, day, gap) for n, (day, gap) in enumerate(days_and_gaps, start=1))
    return Regimen(code, 1, Purpose.PRE_EXPOSURE, frozenset({Route.IM}), steps)


# Days 0, 7 and 21; smallest gaps 7 and 14 (CDSi supporting data 4.64, antigen Rabies).
THREE = regimen("three", (0, 0), (7, 7), (21, 14))


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def doses(*offsets: int) -> tuple[DoseFact, ...]:
    return tuple(DoseFact(day(offset)) for offset in offsets)


def way(facts: PersonFacts, on: date = TODAY, rules: ClearanceRules | None = None, *regimens: Regimen) -> Way:
    return earliest_clear(
        facts=facts,
        rules=rules or ClearanceRules(),
        pre_exposure=regimens or (THREE,),
        post_exposure=(),
        today=TODAY,
        on=on,
    )


def windows(found: Way) -> list[tuple[int | None, date | None, date | None]]:
    return [(action.number, action.earliest_on, action.last_on) for action in found.doses]


def test_nobody_without_a_dose_is_clear_before_day_21() -> None:
    found = way(PersonFacts())
    assert found.clear_on == day(21)
    assert windows(found) == [(1, day(0), day(0)), (2, day(7), day(7)), (3, day(21), day(21))]


def test_settling_days_come_after_the_last_dose() -> None:
    assert way(PersonFacts(), TODAY, ClearanceRules(settling_days=7)).clear_on == day(28)


def test_a_start_further_off_leaves_room_and_says_the_last_day_of_each_dose() -> None:
    found = way(PersonFacts(), day(30))
    assert found.clear_on == day(30)
    assert windows(found) == [(1, day(0), day(9)), (2, day(7), day(16)), (3, day(21), day(30))]


@pytest.mark.parametrize(("start", "clear_on"), [(20, 21), (21, 21), (22, 22)])
def test_the_day_before_the_day_and_the_day_after_the_last_possible_start(start: int, clear_on: int) -> None:
    assert way(PersonFacts(), day(start)).clear_on == day(clear_on)


def test_a_dose_a_day_too_early_is_asked_for_again() -> None:
    found = way(PersonFacts(doses=doses(-6, 0)))
    assert windows(found)[0] == (2, day(1), day(1))
    assert found.clear_on == day(15)


def test_somebody_clear_already_needs_nothing() -> None:
    found = way(PersonFacts(doses=doses(-60, -53, -39)))
    assert (found.clear_on, found.actions) == (TODAY, ())


def test_an_open_hold_waits_for_a_person_and_a_dated_one_for_its_end() -> None:
    complete = PersonFacts(doses=doses(-60, -53, -39))
    opened = way(replace(complete, holds=(HoldFact(day(-1), None, "asked the clinician"),)))
    assert opened.clear_on is None
    assert [action.reason.code for action in opened.decisions if action.reason] == [ReasonCode.HELD]
    dated = way(replace(complete, holds=(HoldFact(day(-1), day(4), "rest"),)))
    assert (dated.clear_on, dated.actions) == (day(5), ())


def test_an_open_hold_doesnt_hide_the_doses_that_are_missing_too() -> None:
    found = way(PersonFacts(holds=(HoldFact(day(-1), None, "asked the clinician"),)))
    assert found.clear_on is None
    assert [action.number for action in found.doses] == [1, 2, 3]


def test_a_low_titre_is_for_the_clinician() -> None:
    low = PersonFacts(doses=doses(-400, -393, -379), titres=(TitreFact(day(-2), Decimal("0.49")),))
    assert way(low).clear_on is None
    exact = replace(low, titres=(TitreFact(day(-2), Decimal("0.5")),))
    assert way(exact).clear_on == TODAY


def test_a_lapsed_recheck_and_a_lapsed_briefing_can_be_mended_today() -> None:
    facts = PersonFacts(doses=doses(-1000, -993, -979), briefings=(BriefingFact(day(-500)),))
    found = way(facts, TODAY, ClearanceRules(recheck_months=24, briefing_months=12))
    assert found.clear_on == TODAY
    assert {action.kind for action in found.actions} == {ActionKind.RECHECK, ActionKind.BRIEFING}


def test_what_will_have_lapsed_by_the_start_is_asked_for_by_the_start() -> None:
    facts = PersonFacts(doses=doses(-60, -53, -39), briefings=(BriefingFact(day(-360)),))
    found = way(facts, day(30), ClearanceRules(briefing_months=12))
    assert [(a.kind, a.earliest_on, a.last_on) for a in found.actions] == [
        (ActionKind.BRIEFING, TODAY, day(30))
    ]


def test_without_an_approved_regimen_no_date_follows() -> None:
    found = earliest_clear(
        facts=PersonFacts(), rules=ClearanceRules(), pre_exposure=(), post_exposure=(), today=TODAY, on=TODAY
    )
    assert found.clear_on is None
    assert [one.reason.code for one in found.decisions if one.reason] == [ReasonCode.NO_APPROVED_REGIMEN]


def test_somebody_who_has_left_waits_for_a_person_and_a_newcomer_for_the_first_day() -> None:
    complete = PersonFacts(doses=doses(-60, -53, -39))
    assert way(replace(complete, active_until=day(-1))).clear_on is None
    assert way(replace(complete, active_from=day(9))).clear_on == day(9)


def test_for_the_immunocompromised_nothing_is_proposed() -> None:
    found = way(PersonFacts(immunocompromised=True))
    assert (found.clear_on, found.doses) == (None, ())
    assert len(found.decisions) == 1


@pytest.mark.parametrize("given", [(), (-30,), (-900, -893, -879)])
def test_a_letter_that_covers_the_day_still_leaves_doses_and_rechecks_to_the_clinician(
    given: tuple[int, ...],
) -> None:
    letter = LetterFact(day(-10), day(400), verified=True)
    facts = PersonFacts(doses=doses(*given), immunocompromised=True, letters=(letter,))
    found = way(facts, rules=ClearanceRules(recheck_months=24, lapse_blocks=True))
    assert found.clear_on is None
    assert {action.kind for action in found.actions} == {ActionKind.DECISION}


def test_the_dates_named_are_dates_that_count() -> None:
    found = way(PersonFacts(doses=doses(-9)), day(40))
    for pick in ("earliest_on", "last_on"):
        given = [DoseFact(getattr(action, pick)) for action in found.doses]
        result = evaluate_series(regimen=THREE, doses=(*doses(-9), *given), on=day(40))
        assert result.complete_on is not None and result.complete_on <= day(40)


# A short regimen, so that every way of giving doses within two weeks can be tried.
SHORT = regimen("short", (0, 0), (2, 2), (5, 3))
PAIR = regimen("pair", (0, 0), (4, 4), (7, 2))
HORIZON = 13


def every_way(facts: PersonFacts, rules: ClearanceRules, last: int) -> Iterator[PersonFacts]:
    taken = {dose.given_on for dose in facts.doses}
    free = [day(offset) for offset in range(last + 1) if day(offset) not in taken]
    briefed = (*facts.briefings, *(BriefingFact(day(offset)) for offset in range(last + 1)))
    for number in range(4):
        for given in combinations(free, number):
            added = tuple(DoseFact(one) for one in given)
            yield replace(facts, doses=(*facts.doses, *added), briefings=briefed)


def earliest_by_trying(facts: PersonFacts, rules: ClearanceRules, on: int) -> date | None:
    for last in range(on, HORIZON + 1):
        for tried in every_way(facts, rules, last):
            judged = evaluate_clearance(
                facts=tried, rules=rules, pre_exposure=(SHORT, PAIR), post_exposure=()
            )
            if judged.covers(day(last)):
                return day(last)
    return None


@pytest.mark.parametrize("seed", range(30))
def test_no_way_of_giving_doses_is_sooner(seed: int) -> None:
    chance = random.Random(seed)
    facts = PersonFacts(
        doses=doses(*chance.sample(range(-8, 1), chance.randrange(0, 4))),
        briefings=tuple(
            BriefingFact(day(-40 * chance.randrange(1, 3))) for _each in range(chance.randrange(2))
        ),
        holds=tuple(
            HoldFact(day(-1), day(chance.randrange(0, 6)), "rest") for _each in range(chance.randrange(2))
        ),
        active_from=chance.choice((None, day(chance.randrange(0, 6)))),
    )
    rules = ClearanceRules(
        settling_days=chance.choice((0, 0, 3)), briefing_months=chance.choice((None, 1, 0))
    )
    on = chance.randrange(0, 4)
    found = way(facts, day(on), rules, SHORT, PAIR)
    assert found.clear_on == earliest_by_trying(facts, rules, on)
    assert found.clear_on is not None
