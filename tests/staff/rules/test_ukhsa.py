"""Against UK Health Security Agency: rabies post-exposure summary of 1 May 2024, and Green Book chapter 27."""

import pytest

from staff.rules.record.series import NextDose, evaluate_series
from staff.rules.regimen.values import Regimen
from tests.staff.rules.samples import as_table, doses, on, planned, regimen


@pytest.mark.parametrize(
    ("code", "table"),
    [
        ("pep-im-0-3-7-21", [(0, 0, 1), (3, 3, 1), (7, 7, 1), (21, 21, 1)]),
        (
            "pep-im-0-3-7-14-30-immunocompromised",
            [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 14, 1), (30, 30, 1)],
        ),
        ("pep-immunised-im-0-3to7", [(0, 0, 1), (3, 7, 1)]),
    ],
)
def test_post_exposure_days_are_those_of_the_summary(code: str, table: list[tuple[int, int, int]]) -> None:
    assert as_table(code) == table


@pytest.mark.parametrize(("day", "days_late"), [(3, 0), (5, 0), (7, 0), (8, 1)])
def test_the_second_dose_of_the_immunised_may_come_from_day_3_through_day_7(day: int, days_late: int) -> None:
    assert planned("pep-immunised-im-0-3to7", [0, day]).steps[1].days_late == days_late


def test_the_fast_series_is_complete_on_day_7_and_asks_for_a_dose_at_a_year() -> None:
    fast = regimen("prep-im-0-3-7-365")
    result = evaluate_series(regimen=fast, doses=doses(0, 3, 7), on=on(7))
    assert (result.valid_doses, result.complete_on) == (3, on(7))
    assert result.next == NextDose(4, earliest_on=on(365), due_on=on(365), latest_on=on(366))


def test_the_dose_at_a_year_ends_the_fast_series_and_does_not_move_its_completion() -> None:
    result = evaluate_series(regimen=regimen("prep-im-0-3-7-365"), doses=doses(0, 3, 7, 365), on=on(400))
    assert (result.valid_doses, result.complete_on, result.next) == (4, on(7), None)


def test_the_anniversary_of_day_0_lies_in_the_window_in_every_year() -> None:
    fast: Regimen = regimen("prep-im-0-3-7-365")
    assert (fast.steps[3].day, fast.steps[3].latest_day) == (365, 366)  # 366 across a 29 February
