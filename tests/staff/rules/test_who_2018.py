"""Against WHO, Rabies vaccines: position paper, Weekly Epidemiological Record 2018;93(16):201-220.

Post-exposure days read in a secondary copy; two injections a day into the skin before exposure from memory.
Each row: (due day, last day of the window, injections).
"""

import pytest

from staff.rules.record.series import evaluate_series
from staff.rules.regimen.values import Purpose, Route
from tests.staff.rules.samples import as_table, doses, on, planned, regimen

POST_EXPOSURE = {
    "pep-im-0-3-7-14to28": [(0, 0, 1), (3, 3, 1), (7, 7, 1), (14, 28, 1)],
    "pep-im-0x2-7-21": [(0, 0, 2), (7, 7, 1), (21, 21, 1)],
    "pep-id-0x2-3x2-7x2": [(0, 0, 2), (3, 3, 2), (7, 7, 2)],
}
IMMUNISED = {
    "pep-immunised-im-0-3": [(0, 0, 1), (3, 3, 1)],
    "pep-immunised-id-0-3": [(0, 0, 1), (3, 3, 1)],
    "pep-immunised-id-0x4": [(0, 0, 4)],
}
PRE_EXPOSURE = {
    "prep-im-0-7": [(0, 0, 1), (7, 7, 1)],
    "prep-id-0-7": [(0, 0, 2), (7, 7, 2)],
    "prep-im-0-7-21-immunocompromised": [(0, 0, 1), (7, 7, 1), (21, 28, 1)],
}


@pytest.mark.parametrize(("code", "table"), (POST_EXPOSURE | IMMUNISED | PRE_EXPOSURE).items())
def test_the_days_and_injections_are_those_of_the_table(code: str, table: list[tuple[int, int, int]]) -> None:
    assert as_table(code) == table


@pytest.mark.parametrize(
    ("codes", "purpose"),
    [
        (POST_EXPOSURE, Purpose.POST_EXPOSURE),
        (IMMUNISED, Purpose.POST_EXPOSURE_IMMUNISED),
        (PRE_EXPOSURE, Purpose.PRE_EXPOSURE),
    ],
)
def test_each_regimen_serves_the_people_it_is_meant_for(codes: dict[str, object], purpose: Purpose) -> None:
    assert {regimen(code).purpose for code in codes} == {purpose}


def test_the_route_in_the_code_is_the_only_route_accepted() -> None:
    for code in POST_EXPOSURE | IMMUNISED | PRE_EXPOSURE:
        assert regimen(code).routes == {Route.ID if "-id-" in code else Route.IM}


def test_the_fourth_dose_is_on_time_from_day_14_through_day_28() -> None:
    days_late = {
        day: planned("pep-im-0-3-7-14to28", [0, 3, 7, day]).steps[3].days_late for day in range(14, 31)
    }
    assert days_late == dict.fromkeys(range(14, 29), 0) | {29: 1, 30: 2}


def test_the_fourth_dose_on_day_13_does_not_count() -> None:
    schedule = planned("pep-im-0-3-7-14to28", [0, 3, 7, 13])
    assert schedule.not_counted == ((on(13), "too-early"),)
    assert schedule.steps[3].given_on is None


def test_the_two_dose_series_is_complete_on_its_second_day() -> None:
    result = evaluate_series(regimen=regimen("prep-im-0-7"), doses=doses(0, 7), on=on(7))
    assert (result.complete_on, result.next) == (on(7), None)
