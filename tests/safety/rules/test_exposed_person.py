"""Who was exposed, and what may be put before the clinician (WHO 2018, secondary copy)."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from safety.rules.case.category import Category
from safety.rules.case.exposed_person import (
    Known,
    Standing,
    immunoglobulin_may_be_asked,
    known_of,
    purposes_listed,
    standing_of,
)
from staff.rules.regimen.values import DoseFact, Purpose

COMPLETE = date(2025, 1, 22)


def standing(exposed_on: date = date(2026, 3, 2), **changed: Any) -> Standing:
    said: dict[str, Any] = {"complete_on": COMPLETE, "doses": (), "immunocompromised": False}
    return standing_of(**said | changed, exposed_on=exposed_on)


def course(*days: date, purpose: Purpose = Purpose.POST_EXPOSURE) -> tuple[DoseFact, ...]:
    return tuple(DoseFact(day, purpose=purpose) for day in days)


def test_a_complete_series_is_immunised_and_nothing_short_of_it_is() -> None:
    assert standing() is Standing.IMMUNISED
    assert standing(complete_on=None) is Standing.NOT_IMMUNISED
    two_of_three = (DoseFact(date(2026, 2, 1)), DoseFact(date(2026, 2, 8)))
    assert standing(complete_on=None, doses=two_of_three) is Standing.NOT_IMMUNISED


@pytest.mark.parametrize(
    ("last_dose", "exposed_on", "expected"),
    [
        # Three months by the calendar: the day before, the day, the day after; month ends and a leap day.
        (date(2025, 12, 2), date(2026, 3, 1), Standing.RECENT_COURSE),
        (date(2025, 12, 2), date(2026, 3, 2), Standing.IMMUNISED),
        (date(2025, 12, 2), date(2026, 3, 3), Standing.IMMUNISED),
        (date(2025, 11, 30), date(2026, 2, 27), Standing.RECENT_COURSE),
        (date(2025, 11, 30), date(2026, 2, 28), Standing.IMMUNISED),
        (date(2027, 11, 30), date(2028, 2, 28), Standing.RECENT_COURSE),
        (date(2027, 11, 30), date(2028, 2, 29), Standing.IMMUNISED),
    ],
)
def test_post_exposure_doses_within_three_months_are_a_recent_course(
    last_dose: date, exposed_on: date, expected: Standing
) -> None:
    for purpose in (Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED):
        assert standing(exposed_on, doses=course(last_dose, purpose=purpose)) is expected


def test_pre_exposure_doses_lately_are_no_recent_course() -> None:
    assert standing(doses=(DoseFact(date(2026, 2, 20)),)) is Standing.IMMUNISED


def test_a_weak_immune_system_stands_above_everything_else() -> None:
    assert standing(immunocompromised=True) is Standing.IMMUNOCOMPROMISED
    assert standing(immunocompromised=True, complete_on=None) is Standing.IMMUNOCOMPROMISED


def test_the_tables_two_plain_cases_are_listed_and_the_two_disputed_ones_are_not() -> None:
    listed = {one: purposes_listed(one, exposed=True) for one in Standing}
    assert listed == {
        Standing.NOT_IMMUNISED: {Purpose.POST_EXPOSURE},
        Standing.IMMUNISED: {Purpose.POST_EXPOSURE_IMMUNISED},
        Standing.RECENT_COURSE: set(),
        Standing.IMMUNOCOMPROMISED: set(),
    }


def test_without_an_exposure_nothing_is_listed() -> None:
    assert {purposes_listed(one, exposed=False) for one in Standing} == {frozenset()}


@pytest.mark.parametrize(
    ("category", "exposed", "complete_on", "weak", "asked"),
    [
        # WHO 2018, secondary copy: III gets immunoglobulin unless previously immunised; II gets vaccine.
        (Category.III, True, None, False, True),
        (Category.III, True, COMPLETE, False, False),
        (Category.III, True, COMPLETE, True, True),
        (Category.II, True, None, False, False),
        # WHO 2018, table 1, in a secondary copy: category II gets it where the immune system is weak.
        (Category.II, True, None, True, True),
        (Category.II, True, COMPLETE, True, True),
        (Category.I, False, None, False, False),
        (Category.I, True, None, False, True),  # A needlestick besides a touch.
        (None, True, None, False, True),
        (None, False, None, False, False),
    ],
)
def test_immunoglobulin_may_be_asked_for(
    category: Category | None, exposed: bool, complete_on: date | None, weak: bool, asked: bool
) -> None:
    assert (
        immunoglobulin_may_be_asked(
            category=category,
            exposed=exposed,
            known=known_of(complete_on=complete_on, immunocompromised=weak),
        )
        is asked
    )


@pytest.mark.parametrize("category", [Category.II, Category.III, None])
def test_whoever_is_not_known_not_to_need_immunoglobulin_may_need_it(category: Category | None) -> None:
    """Decided here: somebody of whom nothing is known is taken for immunodeficient, and so in category II too."""
    assert immunoglobulin_may_be_asked(category=category, exposed=True, known=Known.UNKNOWN)
    assert not immunoglobulin_may_be_asked(category=category, exposed=False, known=Known.UNKNOWN)
