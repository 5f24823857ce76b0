"""Against the national tables compared in Trop Med Infect Dis 2017;2(3):23 and the Canadian Immunization Guide,
rabies chapter (2015 copy): three doses before exposure on days 0, 7 and one of 21 to 28.

That the series takes three weeks and that three doses come before the field is common practice, no source.
"""

import pytest

from staff.rules.record.clearance import ClearanceRules
from staff.rules.record.series import NextDose, evaluate_series
from tests.staff.rules.samples import as_table, doses, on, regimen


@pytest.mark.parametrize("code", ["prep-im-0-7-21", "prep-id-0-7-21"])
def test_the_three_dose_series_is_on_days_0_7_and_21_to_28(code: str) -> None:
    assert as_table(code) == [(0, 0, 1), (7, 7, 1), (21, 28, 1)]


def test_the_whole_series_takes_three_weeks_at_least() -> None:
    three = regimen("prep-im-0-7-21")
    assert sum(step.smallest_gap for step in three.steps) == 3 * 7


def test_three_doses_are_asked_for_unless_a_site_says_otherwise() -> None:
    assert ClearanceRules().doses_required == 3


def test_the_third_dose_is_announced_for_day_21_with_a_week_of_window() -> None:
    result = evaluate_series(regimen=regimen("prep-im-0-7-21"), doses=doses(0, 7), on=on(9))
    assert result.next == NextDose(3, earliest_on=on(21), due_on=on(21), latest_on=on(28))
