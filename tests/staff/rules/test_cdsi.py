"""Against CDC Clinical Decision Support for Immunization, supporting data 4.64, antigen Rabies.

Smallest gaps of the three-dose series: 7 and 14 days; over 21 days is late and counts; no days of grace.
That exactly 7 days count was decided here, for one published table names only "under" and "over".
"""

import pytest

from staff.rules.record.series import DoseReason, evaluate_series
from staff.rules.regimen.values import DoseFact
from tests.staff.rules.samples import doses, on, regimen

THREE = regimen("prep-im-0-7-21")


def judged(*days: int) -> list[tuple[bool, DoseReason | None, int | None]]:
    result = evaluate_series(regimen=THREE, doses=doses(*days), on=on(400))
    return [(dose.counts, dose.reason, dose.days) for dose in result.doses]


COUNTS = (True, None, None)


@pytest.mark.parametrize(("day", "early"), [(1, 6), (3, 4), (4, 3), (6, 1)])
def test_a_second_dose_before_day_7_does_not_count_however_near(day: int, early: int) -> None:
    assert judged(0, day) == [COUNTS, (False, DoseReason.TOO_EARLY, early)]


@pytest.mark.parametrize("day", [7, 8, 14, 300])
def test_a_second_dose_on_day_7_or_any_time_after_it_counts(day: int) -> None:
    assert judged(0, day) == [COUNTS, COUNTS]


@pytest.mark.parametrize(("day", "early"), [(8, 13), (20, 1)])
def test_a_third_dose_under_14_days_after_the_second_does_not_count(day: int, early: int) -> None:
    assert judged(0, 7, day) == [COUNTS, COUNTS, (False, DoseReason.TOO_EARLY, early)]


@pytest.mark.parametrize("day", [21, 22, 28, 29, 380])
def test_a_third_dose_14_days_after_the_second_counts_and_so_does_a_late_one(day: int) -> None:
    assert judged(0, 7, day) == [COUNTS, COUNTS, COUNTS]


def test_the_gap_to_the_third_dose_runs_from_the_day_the_second_was_really_given() -> None:
    assert judged(0, 10, 21)[2] == (False, DoseReason.TOO_EARLY, 3)
    assert judged(0, 10, 24)[2] == COUNTS


def test_the_gap_after_an_early_dose_runs_from_the_last_dose_that_counted() -> None:
    """Decided here: CDSi's general logic would measure from the early dose; see evaluate_series."""
    assert judged(0, 6, 7) == [COUNTS, (False, DoseReason.TOO_EARLY, 1), COUNTS]


def test_a_dose_given_at_four_days_grace_is_not_saved_by_the_general_tolerance() -> None:
    result = evaluate_series(
        regimen=THREE, doses=[DoseFact(on(0)), DoseFact(on(6)), DoseFact(on(20))], on=on(50)
    )
    assert result.valid_doses == 2
    assert result.complete_on is None
