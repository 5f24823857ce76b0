"""What runs out after a complete series: the re-check, the titre, the dose at a year.

Terms follow ACIP, MMWR 2022;71(18):619-627 (every 6 months, every 2 years) and the Australian handbook (years);
that the anniversary itself is still covered was decided here.
"""

from datetime import date
from decimal import Decimal

import pytest

from staff.rules.record.clearance import (
    Clearance,
    ClearanceRules,
    Params,
    PersonFacts,
    Reason,
    ReasonCode,
    TitreFact,
    evaluate_clearance,
)
from staff.rules.regimen.values import DoseFact, Interval, Purpose, Regimen
from tests.staff.rules.samples import MONDAY, doses, on, regimen

THREE = regimen("prep-im-0-7-21")
FAST = regimen("prep-im-0-3-7-365")
COMPLETE = (DoseFact(date(2024, 2, 18)), DoseFact(date(2024, 2, 25)), DoseFact(date(2024, 3, 10)))
TWO_YEARS = ClearanceRules(recheck_months=24)


def judge(
    *record: DoseFact,
    titres: tuple[TitreFact, ...] = (),
    rules: ClearanceRules = TWO_YEARS,
    pre: tuple[Regimen, ...] = (THREE,),
) -> Clearance:
    return evaluate_clearance(
        facts=PersonFacts(doses=record, titres=titres), rules=rules, pre_exposure=pre, post_exposure=()
    )


def titre(taken_on: date, value: str) -> TitreFact:
    return TitreFact(taken_on, Decimal(value))


def booster(given_on: date) -> DoseFact:
    return DoseFact(given_on, purpose=Purpose.BOOSTER)


def test_a_series_is_covered_through_its_anniversary_and_not_the_day_after() -> None:
    clearance = judge(*COMPLETE)
    assert clearance.intervals == (Interval(date(2024, 3, 10), date(2026, 3, 10)),)
    assert clearance.reasons_on(date(2026, 3, 11)) == (
        Reason(ReasonCode.RECHECK_DUE, Params(lapsed_on=date(2026, 3, 11))),
    )
    assert clearance.clear_from(date(2026, 3, 11)) is None


def test_six_months_from_the_last_of_august_end_on_the_last_of_february() -> None:
    record = (DoseFact(date(2025, 8, 10)), DoseFact(date(2025, 8, 17)), DoseFact(date(2025, 8, 31)))
    clearance = judge(*record, rules=ClearanceRules(recheck_months=6))
    assert clearance.intervals == (Interval(date(2025, 8, 31), date(2026, 2, 28)),)


def test_with_no_recheck_asked_for_a_series_holds() -> None:
    assert judge(*COMPLETE, rules=ClearanceRules()).intervals == (Interval(date(2024, 3, 10), None),)


def test_a_booster_starts_the_term_again_with_or_without_a_gap() -> None:
    assert judge(*COMPLETE, booster(date(2026, 3, 11))).intervals == (
        Interval(date(2024, 3, 10), date(2028, 3, 11)),
    )
    assert judge(*COMPLETE, booster(date(2026, 5, 1))).intervals == (
        Interval(date(2024, 3, 10), date(2026, 3, 10)),
        Interval(date(2026, 5, 1), date(2028, 5, 1)),
    )


@pytest.mark.parametrize("purpose", Purpose)
def test_any_further_valid_dose_is_a_booster_whatever_it_was_given_for(purpose: Purpose) -> None:
    further = DoseFact(date(2025, 6, 1), purpose=purpose)
    assert judge(*COMPLETE, further).intervals[0].ends_on == date(2027, 6, 1)


@pytest.mark.parametrize(
    "further",
    [
        DoseFact(date(2025, 6, 1), purpose=Purpose.BOOSTER, voided=True),
        DoseFact(date(2025, 6, 1), purpose=Purpose.BOOSTER, verified=False),
        DoseFact(date(2025, 6, 1), purpose=Purpose.BOOSTER, recorded_on=date(2025, 5, 31)),
    ],
)
def test_a_booster_that_does_not_stand_extends_nothing(further: DoseFact) -> None:
    assert judge(*COMPLETE, further) == judge(*COMPLETE)


@pytest.mark.parametrize(("value", "ends_on"), [("0.5", date(2027, 6, 1)), ("0.49", date(2025, 5, 31))])
def test_an_adequate_titre_extends_the_term_and_a_low_one_ends_it(value: str, ends_on: date) -> None:
    """0.5 IU/mL and above is adequate (WHO 2018, ACIP 2022)."""
    clearance = judge(*COMPLETE, titres=(titre(date(2025, 6, 1), value),))
    assert clearance.intervals == (Interval(date(2024, 3, 10), ends_on),)


def test_a_low_titre_ends_clearance_from_its_day_until_a_booster_even_without_rechecks() -> None:
    low = titre(date(2025, 6, 1), "0.3")
    clearance = judge(*COMPLETE, booster(date(2025, 6, 20)), titres=(low,), rules=ClearanceRules())
    assert clearance.intervals == (
        Interval(date(2024, 3, 10), date(2025, 5, 31)),
        Interval(date(2025, 6, 20), None),
    )
    assert clearance.reasons_on(date(2025, 6, 19)) == (
        Reason(ReasonCode.TITRE_LOW, Params(taken_on=date(2025, 6, 1), iu_per_ml="0.3")),
    )


def test_an_adequate_titre_after_a_low_one_does_not_stand_in_for_the_booster() -> None:
    titres = (titre(date(2025, 6, 1), "0.3"), titre(date(2025, 7, 1), "0.9"))
    assert not judge(*COMPLETE, titres=titres).covers(date(2025, 8, 1))


def test_of_two_titres_on_one_day_the_low_one_rules() -> None:
    titres = (titre(date(2025, 6, 1), "0.9"), titre(date(2025, 6, 1), "0.3"))
    assert not judge(*COMPLETE, titres=titres).covers(date(2025, 6, 1))
    assert not judge(*COMPLETE, titres=titres[::-1]).covers(date(2025, 6, 1))


def test_a_booster_before_a_low_titre_does_not_answer_it_and_one_on_its_day_does() -> None:
    low = (titre(date(2025, 6, 1), "0.3"),)
    assert not judge(*COMPLETE, booster(date(2025, 5, 31)), titres=low).covers(date(2025, 6, 1))
    assert judge(*COMPLETE, booster(date(2025, 6, 1)), titres=low).covers(date(2025, 6, 1))


def test_a_low_titre_before_the_last_dose_of_the_series_is_answered_by_that_dose() -> None:
    low = (titre(date(2024, 3, 1), "0.1"),)
    assert judge(*COMPLETE, titres=low) == judge(*COMPLETE)


def test_an_adequate_titre_proves_no_series() -> None:
    assert judge(*COMPLETE[:2], titres=(titre(date(2025, 6, 1), "9.0"),)).intervals == ()


def test_a_site_whose_lapses_do_not_block_gets_them_as_advice() -> None:
    rules = ClearanceRules(recheck_months=24, lapse_blocks=False)
    clearance = judge(*COMPLETE, titres=(titre(date(2025, 6, 1), "0.3"),), rules=rules)
    assert clearance.intervals == (Interval(date(2024, 3, 10), None),)
    assert clearance.reasons_on(date(2026, 3, 11)) == ()
    assert [reason.code for reason in clearance.advice_on(date(2026, 3, 11))] == [
        ReasonCode.RECHECK_DUE,
        ReasonCode.TITRE_LOW,
    ]
    assert clearance.advice_on(date(2025, 5, 31)) == ()


def test_where_lapses_block_there_is_no_advice() -> None:
    assert judge(*COMPLETE).advice_on(date(2030, 1, 1)) == ()


def test_the_dose_at_a_year_is_overdue_from_the_day_after_its_window() -> None:
    clearance = judge(*doses(0, 3, 7), pre=(FAST,), rules=ClearanceRules())
    assert clearance.intervals == (Interval(on(7), on(366)),)
    assert clearance.reasons_on(on(367)) == (Reason(ReasonCode.RECHECK_DUE, Params(lapsed_on=on(367))),)


def test_the_dose_at_a_year_keeps_the_series_for_good_and_gives_it_back_when_late() -> None:
    none_asked = ClearanceRules()
    assert judge(*doses(0, 3, 7, 365), pre=(FAST,), rules=none_asked).intervals == (Interval(on(7), None),)
    assert judge(*doses(0, 3, 7, 500), pre=(FAST,), rules=none_asked).intervals == (
        Interval(on(7), on(366)),
        Interval(on(500), None),
    )
    boosted = doses(0, 3, 7) + doses(365, purpose=Purpose.BOOSTER)
    assert judge(*boosted, pre=(FAST,), rules=none_asked).intervals == (Interval(on(7), None),)


def test_one_more_dose_never_brings_the_dose_at_a_year_forward() -> None:
    """Doses 0, 3, 10 hold through day 369. A dose on day 7 completes sooner and must not end it on day 366."""
    without = judge(*doses(0, 3, 10), pre=(FAST,), rules=ClearanceRules())
    assert without.intervals == (Interval(on(10), on(369)),)
    with_more = judge(*doses(0, 3, 7, 10), pre=(FAST,), rules=ClearanceRules())
    assert with_more.intervals == (Interval(on(7), on(369)),)


def test_another_complete_series_needs_no_dose_at_a_year() -> None:
    clearance = judge(*doses(0, 3, 7, 21), pre=(FAST, THREE), rules=ClearanceRules())
    assert clearance.intervals == (Interval(on(7), None),)


def test_settling_is_counted_once_from_the_first_completion() -> None:
    rules = ClearanceRules(settling_days=10, recheck_months=24)
    clearance = judge(*COMPLETE, booster(date(2026, 5, 1)), rules=rules)
    assert clearance.intervals == (
        Interval(date(2024, 3, 20), date(2026, 3, 10)),
        Interval(date(2026, 5, 1), date(2028, 5, 1)),
    )


def test_the_term_of_the_recheck_runs_from_completion_and_not_from_the_end_of_settling() -> None:
    record = doses(0, 7, 21)
    one_month = ClearanceRules(settling_days=14, recheck_months=1)
    clearance = judge(*record, rules=one_month)
    assert date(2026, 3, 2) == MONDAY
    assert clearance.intervals == (Interval(date(2026, 4, 6), date(2026, 4, 23)),)
