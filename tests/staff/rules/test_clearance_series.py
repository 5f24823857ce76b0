"""Who is clear by their doses, from which day, and what the others are told."""

from dataclasses import replace
from datetime import date

import pytest

from staff.rules.record.clearance import (
    Clearance,
    ClearanceRules,
    Params,
    PersonFacts,
    Reason,
    ReasonCode,
    evaluate_clearance,
)
from staff.rules.regimen.values import DoseFact, Interval, Purpose, Regimen
from tests.staff.rules.samples import MONDAY, course, doses, on, regimen

THREE = regimen("prep-im-0-7-21")
TWO = regimen("prep-im-0-7")
FAST = regimen("prep-im-0-3-7-365")
PEP = regimen("pep-im-0-3-7-14-28")
SHORT_PEP = regimen("pep-immunised-im-0-3")


def judge(
    *record: DoseFact,
    pre: tuple[Regimen, ...] = (THREE,),
    post: tuple[Regimen, ...] = (),
    rules: ClearanceRules | None = None,
) -> Clearance:
    return evaluate_clearance(
        facts=PersonFacts(doses=record),
        rules=rules or ClearanceRules(),
        pre_exposure=pre,
        post_exposure=post,
    )


def codes(clearance: Clearance, day: date) -> list[ReasonCode]:
    return [reason.code for reason in clearance.reasons_on(day)]


def test_the_third_dose_clears_the_day_it_is_given_and_not_the_day_before() -> None:
    clearance = judge(*doses(0, 7, 21))
    assert [clearance.covers(on(day)) for day in (20, 21, 22)] == [False, True, True]
    assert clearance.intervals == (Interval(on(21), None),)
    assert clearance.clear_from(MONDAY) == on(21)
    assert clearance.clear_from(on(99)) == on(99)


def test_settling_days_come_after_the_last_dose() -> None:
    clearance = judge(*doses(0, 7, 21), rules=ClearanceRules(settling_days=14))
    assert [clearance.covers(on(day)) for day in (34, 35)] == [False, True]
    assert clearance.reasons_on(on(34)) == (
        Reason(ReasonCode.SETTLING, Params(complete_on=on(21), clear_from=on(35))),
    )
    assert codes(clearance, on(20)) == [ReasonCode.SERIES_INCOMPLETE]


def test_nobody_without_doses_is_clear_and_the_first_may_be_given_at_once() -> None:
    clearance = judge()
    assert (clearance.intervals, clearance.clear_from(MONDAY)) == ((), None)
    (reason,) = clearance.reasons_on(on(3))
    assert reason.code is ReasonCode.NO_DOSES
    assert (reason.params["valid"], reason.params["required"], reason.params["earliest_on"]) == (0, 3, on(3))


def test_an_unfinished_series_says_how_many_count_and_when_the_next_may_be() -> None:
    clearance = judge(*doses(0, 6, 7))
    (reason,) = clearance.reasons_on(on(10))
    assert reason.code is ReasonCode.SERIES_INCOMPLETE
    assert reason.params == {
        "valid": 2,
        "recorded": 3,
        "required": 3,
        "regimen": "prep-im-0-7-21",
        "number": 3,
        "earliest_on": on(21),
        "due_on": on(21),
        "latest_on": on(28),
    }


def test_a_past_date_is_explained_by_the_doses_given_by_then() -> None:
    clearance = judge(*doses(0, 7, 21))
    (reason,) = clearance.reasons_on(on(6))
    assert (reason.code, reason.params["valid"]) == (ReasonCode.SERIES_INCOMPLETE, 1)
    assert codes(clearance, on(-1)) == [ReasonCode.NO_DOSES]


def test_a_voided_record_is_no_dose_and_still_shows_that_something_was_entered() -> None:
    clearance = judge(*[replace(dose, voided=True) for dose in doses(0, 7, 21)])
    (reason,) = clearance.reasons_on(on(30))
    assert (reason.code, reason.params["recorded"]) == (ReasonCode.NO_DOSES, 3)


def test_two_doses_are_too_few_where_three_are_asked_for() -> None:
    clearance = judge(*doses(0, 7), pre=(TWO, THREE))
    assert clearance.intervals == ()
    assert codes(clearance, on(6)) == [ReasonCode.SERIES_INCOMPLETE]
    (reason,) = clearance.reasons_on(on(7))
    assert (reason.code, reason.params["valid"]) == (ReasonCode.TOO_FEW_DOSES, 2)
    assert reason.params["earliest_on"] == on(21)


def test_two_doses_are_enough_where_two_are_asked_for_and_approved() -> None:
    two_asked = ClearanceRules(doses_required=2)
    assert judge(*doses(0, 7), pre=(TWO, THREE), rules=two_asked).clear_from(MONDAY) == on(7)
    assert judge(*doses(0, 7), pre=(THREE,), rules=two_asked).clear_from(MONDAY) is None


@pytest.mark.parametrize("pre", [(), (TWO,)])
def test_without_an_approved_regimen_of_enough_doses_nobody_is_clear(pre: tuple[Regimen, ...]) -> None:
    clearance = judge(*doses(0, 7, 21), pre=pre)
    assert clearance.intervals == ()
    assert clearance.reasons_on(on(50)) == (Reason(ReasonCode.NO_APPROVED_REGIMEN, Params(required=3)),)


def test_a_regimen_for_another_purpose_never_serves_as_a_pre_exposure_series() -> None:
    assert judge(*doses(0, 3, 7, 14, 28), pre=(PEP,)).intervals == ()


def test_the_earliest_completion_among_approved_regimens_counts() -> None:
    assert judge(*doses(0, 3, 7, 21), pre=(THREE, FAST)).clear_from(MONDAY) == on(7)


def test_the_regimen_named_on_the_doses_is_the_one_explained() -> None:
    unnamed = judge(*doses(0), pre=(THREE, FAST))
    named = judge(replace(doses(0)[0], regimen_code=THREE.code), pre=(THREE, FAST))
    assert unnamed.reasons_on(on(1))[0].params["regimen"] == FAST.code
    assert named.reasons_on(on(1))[0].params["regimen"] == THREE.code


def test_a_complete_post_exposure_course_counts_whatever_the_number_asked_for() -> None:
    clearance = judge(*course(PEP.code, 0, 3, 7, 14, 28), post=(PEP,), rules=ClearanceRules(doses_required=9))
    assert clearance.intervals == (Interval(on(28), None),)


@pytest.mark.parametrize("days", [(0, 3, 7, 14), (0, 3, 7, 14, 27), (0, 2, 7, 14, 28)])
def test_an_unfinished_course_does_not_count(days: tuple[int, ...]) -> None:
    assert judge(*course(PEP.code, *days), post=(PEP,)).intervals == ()


def test_doses_of_two_courses_do_not_add_up() -> None:
    first, second = course(PEP.code, 0, 3, 7, key="one"), course(PEP.code, 14, 28, key="two")
    assert judge(*first, *second, post=(PEP,)).intervals == ()
    together = course(PEP.code, 0, 3, 7, 14, 28, key="one")
    assert judge(*together, post=(PEP,)).clear_from(MONDAY) == on(28)


def test_a_course_on_a_regimen_the_site_has_not_approved_does_not_count() -> None:
    assert judge(*course(PEP.code, 0, 3, 7, 14, 28), post=()).intervals == ()
    assert judge(*course("other", 0, 3, 7, 14, 28), post=(PEP,)).intervals == ()


def test_the_short_course_of_the_immunised_proves_no_series_by_itself() -> None:
    record = course(SHORT_PEP.code, 0, 3)
    assert judge(*record, post=(SHORT_PEP,)).intervals == ()
    immunised = [replace(dose, purpose=Purpose.POST_EXPOSURE_IMMUNISED) for dose in record]
    assert judge(*immunised, post=(SHORT_PEP,)).intervals == ()


def test_post_exposure_and_booster_doses_do_not_fill_up_a_pre_exposure_series() -> None:
    for purpose in (Purpose.POST_EXPOSURE, Purpose.BOOSTER):
        assert judge(*doses(0, 7), *doses(21, purpose=purpose)).intervals == ()


def test_a_dose_dated_after_its_entry_does_not_clear_anyone() -> None:
    *given, third = doses(0, 7, 21)
    assert judge(*given, replace(third, recorded_on=on(20))).intervals == ()
    assert judge(*given, replace(third, recorded_on=on(21))).clear_from(MONDAY) == on(21)


def test_an_unverified_dose_does_not_clear_anyone() -> None:
    *given, third = doses(0, 7, 21)
    assert judge(*given, replace(third, verified=False)).intervals == ()


def test_a_series_across_a_leap_day_is_complete_on_the_right_date() -> None:
    days = (date(2024, 2, 9), date(2024, 2, 16), date(2024, 3, 1))
    assert judge(*[DoseFact(day) for day in days]).clear_from(days[0]) == date(2024, 3, 1)
    early = (*days[:2], date(2024, 2, 29))
    assert judge(*[DoseFact(day) for day in early]).intervals == ()


def test_a_dose_that_only_keeps_a_series_is_not_one_of_the_doses_asked_for() -> None:
    clearance = judge(*doses(0, 3, 7, 365), pre=(FAST,), rules=ClearanceRules(doses_required=4))
    assert clearance.intervals == ()
    assert codes(clearance, on(400)) == [ReasonCode.NO_APPROVED_REGIMEN]
