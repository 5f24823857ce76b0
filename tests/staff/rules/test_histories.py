"""Histories as they are met in the field: what counts, and what a field worker is told about what doesn't."""

from dataclasses import replace
from datetime import date

import pytest

from staff.rules.record.clearance import (
    Clearance,
    ClearanceRules,
    LetterFact,
    PersonFacts,
    ReasonCode,
    evaluate_clearance,
)
from staff.rules.record.dose_standing import judge_doses
from staff.rules.record.mixed import accepted_routes
from staff.rules.record.series import DoseReason, evaluate_series
from staff.rules.regimen.values import DoseFact, Purpose, Route
from staff.words import dose_words
from tests.staff.rules.samples import course, doses, on, regimen

THREE, SKIN_THREE = regimen("prep-im-0-7-21"), regimen("prep-id-0-7-21")
TWO, SKIN_TWO = regimen("prep-im-0-7"), regimen("prep-id-0-7")
COURSE = regimen("pep-im-0-3-7-14-28")


def judge(facts: PersonFacts, rules: ClearanceRules | None = None) -> Clearance:
    return evaluate_clearance(
        facts=facts, rules=rules or ClearanceRules(), pre_exposure=[THREE], post_exposure=[COURSE]
    )


def month(year: int, number: int, last: int) -> DoseFact:
    return DoseFact(date(year, number, last), month_only=True)


def test_a_dose_known_by_month_counts_from_the_months_last_day() -> None:
    record = [month(2026, 1, 31), DoseFact(date(2026, 2, 6)), DoseFact(date(2026, 2, 7))]
    result = evaluate_series(regimen=TWO, doses=record, on=date(2026, 3, 1))
    assert [dose.reason for dose in result.doses] == [None, DoseReason.TOO_EARLY, None]
    assert result.complete_on == date(2026, 2, 7)


@pytest.mark.parametrize(("first", "counts"), [(date(2026, 1, 25), True), (date(2026, 1, 26), False)])
def test_a_dose_known_by_month_counts_only_if_even_the_first_of_the_month_kept_its_gap(
    first: date, counts: bool
) -> None:
    result = evaluate_series(
        regimen=TWO, doses=[DoseFact(first), month(2026, 2, 28)], on=date(2026, 6, 1)
    ).doses[1]
    assert result.counts is counts
    if not counts:
        assert (result.reason, result.days) == (DoseReason.DATE_UNCERTAIN, 1)
        assert "up to 1 day too early. Find the exact date." in dose_words(result)


def test_a_month_is_dated_by_its_last_day_or_refused() -> None:
    with pytest.raises(ValueError, match="last day"):
        DoseFact(date(2026, 1, 30), month_only=True)


@pytest.mark.parametrize(("mixed", "valid"), [(False, 2), (True, 3)])
def test_a_change_of_route_counts_at_a_site_that_accepts_it_and_nowhere_else(mixed: bool, valid: int) -> None:
    """Acceptable when unavoidable: WHO 2018 from memory, not checked against the source; so it is a setting."""
    record = [*doses(0, 7), DoseFact(on(21), route=Route.ID)]
    routes = accepted_routes(THREE, [THREE, SKIN_THREE], mixed=mixed)
    result = evaluate_series(regimen=THREE, doses=record, on=on(60), other_routes=routes)
    assert result.valid_doses == valid
    assert result.doses[2].reason is (None if mixed else DoseReason.ROUTE)


def test_another_route_counts_only_as_an_approved_regimen_of_that_route_asks() -> None:
    """Two injections on each day into the skin, days 0 and 7 (memory of WHO 2018)."""
    assert accepted_routes(TWO, [TWO, THREE], mixed=True) == {}
    routes = accepted_routes(TWO, [TWO, SKIN_TWO], mixed=True)
    for injections, counts in ((1, False), (2, True)):
        second = DoseFact(on(7), route=Route.ID, injections=injections)
        result = evaluate_series(regimen=TWO, doses=[*doses(0), second], on=on(9), other_routes=routes)
        assert result.doses[1].counts is counts


def test_two_doses_on_one_day_are_one() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 0, 7, 21), on=on(30))
    assert [dose.reason for dose in result.doses] == [None, DoseReason.SAME_DAY, None, None]


@pytest.mark.parametrize(
    ("days", "asked", "complete"),
    [
        ((0, 3, 7), 0, None),
        ((0, 3), 3, None),
        ((0, 3, 7), 3, 7),
        ((0, 3, 7, 14, 28), 0, 28),
        ((0, 2, 7), 3, None),
    ],
)
def test_a_stopped_course_is_a_series_from_the_dose_the_site_asks_for(
    days: tuple[int, ...], asked: int, complete: int | None
) -> None:
    facts = PersonFacts(doses=tuple(course(COURSE.code, *days, key="bite")))
    clearance = judge(facts, ClearanceRules(stopped_course_doses=asked))
    assert clearance.clear_from(on(0)) == (None if complete is None else on(complete))


def test_somebody_immunocompromised_is_clear_only_while_a_checked_letter_covers_the_date() -> None:
    complete = PersonFacts(doses=tuple(doses(0, 7, 21)), immunocompromised=True)
    assert [reason.code for reason in judge(complete).reasons_on(on(30))] == [ReasonCode.LETTER_NEEDED]
    letter = LetterFact(on(30), on(40), verified=True)
    clearance = judge(replace(complete, letters=(letter,)))
    assert [clearance.covers(on(day)) for day in (29, 30, 40, 41)] == [False, True, True, False]
    assert clearance.reasons_on(on(41))[0].params == {"lapsed_on": on(41)}
    unchecked = judge(replace(complete, letters=(replace(letter, verified=False),)))
    assert not unchecked.intervals and unchecked.reasons_on(on(30))[0].params == {"waiting": 1}


def test_a_letter_without_a_series_clears_nobody_and_no_dose_is_proposed() -> None:
    facts = PersonFacts(
        doses=tuple(doses(0)), immunocompromised=True, letters=(LetterFact(on(0), on(90), verified=True),)
    )
    reasons = judge(facts).reasons_on(on(10))
    assert [reason.code for reason in reasons] == [ReasonCode.SERIES_INCOMPLETE]
    assert not {"due_on", "earliest_on", "number"} & set(reasons[0].params)


def test_every_dose_has_its_reason_in_words() -> None:
    """One of each kind; none is left without a word."""
    facts = PersonFacts(
        doses=(
            DoseFact(on(0), id=1),
            DoseFact(on(6), id=2),
            DoseFact(on(7), id=3, verified=False),
            DoseFact(on(8), id=4, voided=True),
            DoseFact(on(9), id=5, recorded_on=on(8)),
            DoseFact(on(10), id=6, route=Route.ID),
            DoseFact(on(11), id=7, purpose=Purpose.BOOSTER),
            DoseFact(on(12), id=8, purpose=Purpose.POST_EXPOSURE),
        )
    )
    judged = judge_doses(facts=facts, rules=ClearanceRules(), pre_exposure=[THREE], post_exposure=[COURSE])
    assert [one.reason for one in judged] == [
        None,
        DoseReason.TOO_EARLY,
        DoseReason.UNVERIFIED,
        DoseReason.VOIDED,
        DoseReason.FUTURE,
        DoseReason.ROUTE,
        DoseReason.BOOSTER,
        DoseReason.NO_REGIMEN,
    ]
    assert all(dose_words(one).endswith(".") for one in judged[1:])


def test_without_an_approved_regimen_no_dose_counts_and_that_is_said() -> None:
    facts = PersonFacts(doses=(DoseFact(on(0), id=1),))
    judged = judge_doses(facts=facts, rules=ClearanceRules(), pre_exposure=[], post_exposure=[])
    assert [(one.counts, one.reason) for one in judged] == [(None, DoseReason.NOT_APPROVED)]
