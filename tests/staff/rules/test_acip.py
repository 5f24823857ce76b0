"""Against CDC/ACIP: MMWR 2008;57(RR-3):1-28, MMWR 2010;59(RR-2):1-9 with its published answers on deviations
(read in a secondary copy), and MMWR 2022;71(18):619-627.
"""

from decimal import Decimal

import pytest

from staff.rules.record.facts import TitreFact
from staff.rules.regimen.values import Purpose
from tests.staff.rules.samples import MONDAY, as_table, due_days, on, planned, regimen

TABLE_2010 = {
    "pep-im-0-3-7-14": [0, 3, 7, 14],
    "pep-im-0-3-7-14-28-immunocompromised": [0, 3, 7, 14, 28],
    "pep-immunised-im-0-3": [0, 3],
}


@pytest.mark.parametrize(("code", "days"), TABLE_2010.items())
def test_post_exposure_days_are_those_of_2010(code: str, days: list[int]) -> None:
    assert as_table(code) == [(day, day, 1) for day in days]


def test_pre_exposure_days_are_0_and_7_since_2022() -> None:
    assert as_table("prep-im-0-7") == [(0, 0, 1), (7, 7, 1)]


def test_a_booster_is_one_dose() -> None:
    assert as_table("booster-im") == [(0, 0, 1)]
    assert regimen("booster-im").purpose is Purpose.BOOSTER


def test_published_answer_day_7_dose_given_on_day_10_moves_the_rest_to_days_17_and_31() -> None:
    schedule = planned("pep-im-0-3-7-14-28", [0, 3, 10])
    assert due_days(schedule) == [0, 3, 7, 17, 31]
    assert [step.given_on for step in schedule.steps] == [MONDAY, on(3), on(10), None, None]
    assert [step.days_late for step in schedule.steps] == [0, 0, 3, 0, 0]
    assert (schedule.complete_on, schedule.restarted_on, schedule.not_counted) == (on(31), None, ())


@pytest.mark.parametrize(
    ("titre", "adequate"), [("0.49", False), ("0.5", True), ("0.50", True), ("0.51", True)]
)
def test_a_titre_of_exactly_one_half_is_adequate_in_2022(titre: str, adequate: bool) -> None:
    assert TitreFact(MONDAY, Decimal(titre)).adequate is adequate
