"""Properties of clearance over random records, and the rule said again day by day beside it."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from itertools import pairwise
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from staff.rules.record.clearance import (
    BriefingFact,
    Clearance,
    ClearanceRules,
    HoldFact,
    LetterFact,
    PersonFacts,
    TitreFact,
    evaluate_clearance,
)
from staff.rules.record.dose_standing import judge_doses
from staff.rules.record.intervals import merge, subtract
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route
from tests.staff.rules.samples import on, short_regimen
from tests.staff.rules.search import clear_by_definition
from tests.staff.rules.strategies import dose_facts

PRE = (short_regimen("two", 0, 4), short_regimen("three", 0, 4, 9), short_regimen("fast", 0, 2, 4, later=24))
POST = tuple(
    replace(short_regimen(code, 0, 3, 6), purpose=Purpose.POST_EXPOSURE) for code in ("course-a", "course-b")
)
# Beside those for either route, one into the skin alone that asks two injections for its second visit.
SKIN = replace(
    short_regimen("skin", 0, 4, 9),
    routes=frozenset({Route.ID}),
    steps=tuple(
        replace(step, injections=2 if step.number == 2 else 1)
        for step in short_regimen("skin", 0, 4, 9).steps
    ),
)
MUSCLE = replace(short_regimen("muscle", 0, 3, 8), routes=frozenset({Route.IM}))
DAYS = [on(day) for day in range(-2, 130)]

dates = st.integers(0, 90).map(on)
usual = st.sampled_from([Purpose.PRE_EXPOSURE] * 4 + [Purpose.POST_EXPOSURE] * 2 + list(Purpose))
doses = dose_facts(usual, last_day=60)
standing = doses.map(lambda dose: replace(dose, voided=False, verified=True, recorded_on=None))
titres = st.builds(
    TitreFact, taken_on=dates, iu_per_ml=st.sampled_from(["0.1", "0.49", "0.5", "2"]).map(Decimal)
)
holds = st.builds(
    lambda start, length: HoldFact(on(start), None if length is None else on(start + length), "bite"),
    st.integers(0, 90),
    st.sampled_from([0, 1, 5, 20, None]),
)

letters = st.builds(
    lambda start, length, verified: LetterFact(on(start), on(start + length), verified),
    st.integers(0, 60),
    st.integers(0, 60),
    st.sampled_from([True, True, False]),
)


def few(items: st.SearchStrategy[object], most: int, least: int = 0) -> st.SearchStrategy[tuple[object, ...]]:
    return st.lists(items, min_size=least, max_size=most).map(tuple)


COMPLETE = tuple(
    DoseFact(on(day)) for day in (0, 4, 9)
)  # of two records one is complete, so that lapses are met
any_dose = st.one_of(standing, standing, doses)
records = st.builds(
    PersonFacts,
    doses=few(any_dose, 8, least=3) | few(any_dose, 5).map(lambda more: COMPLETE + more),
    titres=few(titres, 2),
    briefings=few(st.builds(BriefingFact, held_on=dates), 3),
    holds=st.just(()) | few(holds, 2),
    immunocompromised=st.sampled_from([False, False, False, True]),
    letters=few(letters, 3),
    active_from=st.none() | st.integers(0, 20).map(on),
    active_until=st.none() | st.integers(50, 120).map(on),
)
site_rules = st.builds(
    ClearanceRules,
    doses_required=st.integers(2, 3),
    settling_days=st.sampled_from([0, 0, 5]),
    recheck_months=st.integers(0, 2),
    recheck_once=st.booleans(),
    lapse_blocks=st.sampled_from([True, True, False]),
    briefing_months=st.sampled_from([None, None, None, 0, 1]),
    mixed_routes=st.booleans(),
    stopped_course_doses=st.sampled_from([0, 0, 2, 3, 4]),
)
approved = st.sets(st.sampled_from((*PRE, SKIN, MUSCLE)), min_size=1).map(
    lambda found: tuple(sorted(found, key=lambda r: r.code))
)


def judge(facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...]) -> Clearance:
    return evaluate_clearance(facts=facts, rules=rules, pre_exposure=pre, post_exposure=POST)


@settings(max_examples=300)
@given(records, site_rules, approved)
def test_every_day_agrees_with_the_rule_said_day_by_day(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...]
) -> None:
    clearance = judge(facts, rules, pre)
    for day in DAYS:
        assert clearance.covers(day) == clear_by_definition(facts, rules, pre, POST, day), day


@given(records, site_rules, approved)
def test_a_day_is_clear_exactly_when_nothing_stands_in_its_way(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...]
) -> None:
    clearance = judge(facts, rules, pre)
    for day in DAYS:
        assert clearance.covers(day) == (clearance.reasons_on(day) == ())
        first = clearance.clear_from(day)
        assert first is None or (first >= day and clearance.covers(first))
        assert clearance.covers(day) == (first == day)


@settings(max_examples=400)
@given(records, site_rules, approved, standing)
def test_one_more_valid_dose_never_makes_anyone_less_clear(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...], dose: DoseFact
) -> None:
    more = replace(facts, doses=(*facts.doses, dose))
    assert subtract(judge(facts, rules, pre).intervals, judge(more, rules, pre).intervals) == ()


@settings(max_examples=400)
@given(records, site_rules, approved, st.integers(0, 7))
def test_voiding_a_dose_never_makes_anyone_more_clear(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...], index: int
) -> None:
    voided = tuple(replace(d, voided=True) if i == index else d for i, d in enumerate(facts.doses))
    less = judge(replace(facts, doses=voided), rules, pre)
    assert subtract(less.intervals, judge(facts, rules, pre).intervals) == ()


@settings(deadline=None)
@given(records, site_rules, approved, st.randoms())
def test_the_order_of_entry_never_matters(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...], random: Random
) -> None:
    shuffled = replace(
        facts,
        doses=tuple(random.sample(facts.doses, len(facts.doses))),
        titres=tuple(random.sample(facts.titres, len(facts.titres))),
        briefings=tuple(random.sample(facts.briefings, len(facts.briefings))),
        holds=tuple(random.sample(facts.holds, len(facts.holds))),
    )
    one = judge(facts, rules, pre)
    other = judge(shuffled, rules, tuple(random.sample(pre, len(pre))))
    assert one == other
    for day in DAYS:
        assert one.reasons_on(day) == other.reasons_on(day)
        assert one.advice_on(day) == other.advice_on(day)


@given(records, site_rules, approved, titres)
def test_a_titre_clears_or_blocks_by_its_value_and_never_the_other_way(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...], titre: TitreFact
) -> None:
    before = judge(facts, rules, pre).intervals
    after = judge(replace(facts, titres=(*facts.titres, titre)), rules, pre).intervals
    assert subtract(*((before, after) if titre.adequate else (after, before))) == ()


@given(records, site_rules, approved, holds)
def test_a_hold_takes_away_its_own_days_and_gives_none(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...], hold: HoldFact
) -> None:
    before = judge(facts, rules, pre)
    after = judge(replace(facts, holds=(*facts.holds, hold)), rules, pre)
    for day in DAYS:
        inside = hold.starts_on <= day and (hold.ends_on is None or day <= hold.ends_on)
        assert after.covers(day) == (before.covers(day) and not inside)


@given(records, site_rules, approved, letters)
def test_a_letter_never_makes_anyone_less_clear_and_clears_nobody_by_itself(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...], letter: LetterFact
) -> None:
    before = judge(facts, rules, pre).intervals
    after = judge(replace(facts, letters=(*facts.letters, letter)), rules, pre).intervals
    without = judge(replace(facts, immunocompromised=False), rules, pre).intervals
    assert subtract(before, after) == subtract(after, without) == ()


@given(records, site_rules, approved)
def test_every_dose_counts_or_says_why_not_and_what_counts_kept_its_gap(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...]
) -> None:
    numbered = replace(facts, doses=tuple(replace(d, id=at) for at, d in enumerate(facts.doses)))
    judged = judge_doses(facts=numbered, rules=rules, pre_exposure=pre, post_exposure=POST)
    assert [one.dose_id for one in judged] == list(range(len(facts.doses)))
    assert all((one.reason is None) == (one.counts is True) == (one.step is not None) for one in judged)
    steps = {r.code: r.steps for r in pre}
    series = sorted(
        (one for one in judged if one.counts and one.regimen in steps), key=lambda one: one.step or 0
    )
    assert [one.step for one in series] == list(range(1, len(series) + 1))
    for before, after in pairwise(series):
        assert after.regimen is not None and after.step is not None
        gap = (facts.doses[after.dose_id].earliest_on - facts.doses[before.dose_id].given_on).days
        assert gap >= max(1, steps[after.regimen][after.step - 1].smallest_gap)


@given(records, site_rules, approved)
def test_clear_dates_are_sorted_and_apart(
    facts: PersonFacts, rules: ClearanceRules, pre: tuple[Regimen, ...]
) -> None:
    intervals = judge(facts, rules, pre).intervals
    assert intervals == merge(intervals)


@given(st.lists(st.integers(0, 60), max_size=6), st.integers(0, 3))
def test_nobody_is_clear_before_the_smallest_gaps_have_passed(days: list[int], settling: int) -> None:
    facts = PersonFacts(doses=tuple(DoseFact(on(day), route=Route.IM) for day in days))
    rules = ClearanceRules(settling_days=settling)
    first = judge(facts, rules, (PRE[1],)).clear_from(on(0))
    assert first is None or first >= on(min(days)) + timedelta(days=9 + settling)
