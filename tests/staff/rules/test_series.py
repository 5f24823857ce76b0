"""Which doses on record count, and why others do not."""

from dataclasses import replace
from datetime import date
from itertools import permutations

import pytest

from staff.rules.record.series import DoseReason, NextDose, SeriesResult, evaluate_series
from staff.rules.regimen.values import DoseFact, Route
from tests.staff.rules.samples import doses, on, regimen

THREE = regimen("prep-im-0-7-21")
IM = Route.IM


def reasons(result: SeriesResult) -> list[DoseReason | None]:
    return [dose.reason for dose in result.doses]


def test_with_no_dose_the_first_may_be_given_on_the_day_of_the_question() -> None:
    result = evaluate_series(regimen=THREE, doses=[], on=on(5))
    assert (result.valid_doses, result.complete_on, result.doses) == (0, None, ())
    assert result.next == NextDose(1, on(5), on(5), on(5))


def test_a_complete_series_knows_its_steps_its_end_and_wants_nothing_more() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 7, 21), on=on(21))
    assert (result.valid_doses, result.complete_on, result.next) == (3, on(21), None)
    assert [dose.step for dose in result.doses] == [1, 2, 3]


def test_a_series_is_not_complete_on_the_day_before_its_last_dose() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 7, 21), on=on(20))
    assert (result.valid_doses, result.complete_on) == (2, None)
    assert reasons(result) == [None, None, DoseReason.FUTURE]


def test_the_next_dose_is_planned_from_the_dose_really_given() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 10), on=on(12))
    assert result.next == NextDose(3, earliest_on=on(24), due_on=on(24), latest_on=on(31))


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"voided": True}, DoseReason.VOIDED),
        ({"verified": False}, DoseReason.UNVERIFIED),
        ({"recorded_on": on(6)}, DoseReason.FUTURE),
        ({"route": Route.ID}, DoseReason.ROUTE),
        ({"injections": 0}, DoseReason.TOO_FEW_INJECTIONS),
    ],
)
def test_a_dose_that_cannot_count_says_why(change: dict[str, object], reason: DoseReason) -> None:
    first, second, third = doses(0, 7, 21)
    result = evaluate_series(regimen=THREE, doses=[first, replace(second, **change), third], on=on(30))  # type: ignore[arg-type]
    assert reasons(result) == [None, reason, None]
    assert [dose.step for dose in result.doses] == [1, None, 2]
    assert result.complete_on is None


def test_a_dose_recorded_on_its_own_day_or_later_counts() -> None:
    for recorded in (0, 1):
        dose = DoseFact(on(0), recorded_on=on(recorded))
        assert evaluate_series(regimen=THREE, doses=[dose], on=on(1)).valid_doses == 1


def test_a_second_entry_of_the_same_day_does_not_count() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 0, 7, 7, 21, 21), on=on(30))
    same = DoseReason.SAME_DAY
    assert reasons(result) == [None, same, None, same, None, same]
    assert result.valid_doses == 3


def test_a_dose_after_the_whole_series_is_extra() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 7, 21, 50), on=on(60))
    assert reasons(result)[3] is DoseReason.EXTRA
    assert result.complete_on == on(21)


def test_an_unknown_route_and_an_unknown_number_of_injections_are_accepted() -> None:
    two = regimen("prep-id-0-7")
    result = evaluate_series(regimen=two, doses=[DoseFact(on(0)), DoseFact(on(7))], on=on(7))
    assert result.complete_on == on(7)


@pytest.mark.parametrize(("injections", "counts"), [(1, False), (2, True), (3, True)])
def test_a_step_of_two_injections_asks_for_two(injections: int, counts: bool) -> None:
    two = regimen("prep-id-0-7")
    dose = DoseFact(on(0), route=Route.ID, injections=injections)
    assert evaluate_series(regimen=two, doses=[dose], on=on(0)).doses[0].counts is counts


def test_on_one_day_the_entry_that_can_count_is_the_one_that_counts() -> None:
    wrong_route = DoseFact(on(0), route=Route.ID, id=1)
    voided = DoseFact(on(0), route=IM, voided=True, id=2)
    good = DoseFact(on(0), route=IM, id=3)
    for order in permutations([wrong_route, voided, good]):
        result = evaluate_series(regimen=THREE, doses=order, on=on(0))
        assert [(dose.dose.id, dose.reason) for dose in result.doses] == [
            (3, None),
            (1, DoseReason.ROUTE),
            (2, DoseReason.VOIDED),
        ]


def test_days_too_early_are_given_for_that_reason_alone() -> None:
    result = evaluate_series(regimen=THREE, doses=doses(0, 5, 7, 7), on=on(30))
    assert [dose.days for dose in result.doses] == [None, 2, None, None]


def test_a_leap_day_is_a_day_like_any_other() -> None:
    start = DoseFact(date(2024, 2, 22))
    early = evaluate_series(regimen=THREE, doses=[start, DoseFact(date(2024, 2, 28))], on=on(0))
    exact = evaluate_series(regimen=THREE, doses=[start, DoseFact(date(2024, 2, 29))], on=on(0))
    assert (early.valid_doses, exact.valid_doses) == (1, 2)
    assert exact.next == NextDose(3, date(2024, 3, 14), date(2024, 3, 14), date(2024, 3, 21))


def test_a_date_at_the_end_of_the_calendar_breaks_nothing() -> None:
    result = evaluate_series(regimen=THREE, doses=[DoseFact(date.max)], on=date.max)
    assert result.next == NextDose(2, date.max, date.max, date.max)


def test_of_two_entries_of_one_day_the_one_with_enough_injections_counts() -> None:
    one, both = (DoseFact(on(0), route=Route.ID, injections=count, id=count) for count in (1, 2))
    result = evaluate_series(regimen=regimen("prep-id-0-7"), doses=[one, both], on=on(0))
    assert [(dose.dose.id, dose.reason) for dose in result.doses] == [(2, None), (1, DoseReason.SAME_DAY)]
