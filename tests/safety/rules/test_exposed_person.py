"""Who was exposed, and what may be put before the clinician (WHO 2018, secondary copy)."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from safety.rules.case.category import Category
from safety.rules.case.exposed_person import (
    ImmuneStatus,
    Known,
    immune_status,
    immunoglobulin_may_be_asked,
    known_of,
    purposes_listed,
)
from staff.rules.regimen.values import DoseFact, Purpose

COMPLETE = date(2025, 1, 22)


def status(exposed_on: date = date(2026, 3, 2), **changed: Any) -> ImmuneStatus:
    said: dict[str, Any] = {"complete_on": COMPLETE, "doses": (), "immunocompromised": False}
    return immune_status(**said | changed, exposed_on=exposed_on)


def course(*days: date, purpose: Purpose = Purpose.POST_EXPOSURE) -> tuple[DoseFact, ...]:
    return tuple(DoseFact(day, purpose=purpose) for day in days)


def test_a_complete_series_is_immunised_and_nothing_short_of_it_is() -> None:
    assert status() is ImmuneStatus.IMMUNISED
    assert status(complete_on=None) is ImmuneStatus.NOT_IMMUNISED
    two_of_three = (DoseFact(date(2026, 2, 1)), DoseFact(date(2026, 2, 8)))
    assert status(complete_on=None, doses=two_of_three) is ImmuneStatus.NOT_IMMUNISED


@pytest.mark.parametrize(
    ("last_dose", "exposed_on", "expected"),
    [
        # Three months by the calendar: the day before, the day, the day after; month ends and a leap day.
        (date(2025, 12, 2), date(2026, 3, 1), ImmuneStatus.RECENT_COURSE),
        (date(2025, 12, 2), date(2026, 3, 2), ImmuneStatus.IMMUNISED),
        (date(2025, 12, 2), date(2026, 3, 3), ImmuneStatus.IMMUNISED),
        (date(2025, 11, 30), date(2026, 2, 27), ImmuneStatus.RECENT_COURSE),
        (date(2025, 11, 30), date(2026, 2, 28), ImmuneStatus.IMMUNISED),
        (date(2027, 11, 30), date(2028, 2, 28), ImmuneStatus.RECENT_COURSE),
        (date(2027, 11, 30), date(2028, 2, 29), ImmuneStatus.IMMUNISED),
    ],
)
def test_post_exposure_doses_within_three_months_are_a_recent_course(
    last_dose: date, exposed_on: date, expected: ImmuneStatus
) -> None:
    for purpose in (Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED):
        assert status(exposed_on, doses=course(last_dose, purpose=purpose)) is expected


def test_pre_exposure_doses_lately_are_no_recent_course() -> None:
    assert status(doses=(DoseFact(date(2026, 2, 20)),)) is ImmuneStatus.IMMUNISED


def test_a_weak_immune_system_stands_above_everything_else() -> None:
    assert status(immunocompromised=True) is ImmuneStatus.IMMUNOCOMPROMISED
    assert status(immunocompromised=True, complete_on=None) is ImmuneStatus.IMMUNOCOMPROMISED


def test_the_tables_two_plain_cases_are_listed_and_the_two_disputed_ones_are_not() -> None:
    listed = {one: purposes_listed(one, exposed=True) for one in ImmuneStatus}
    assert listed == {
        ImmuneStatus.NOT_IMMUNISED: {Purpose.POST_EXPOSURE},
        ImmuneStatus.IMMUNISED: {Purpose.POST_EXPOSURE_IMMUNISED},
        ImmuneStatus.RECENT_COURSE: set(),
        ImmuneStatus.IMMUNOCOMPROMISED: set(),
    }


def test_without_an_exposure_nothing_is_listed() -> None:
    assert {purposes_listed(one, exposed=False) for one in ImmuneStatus} == {frozenset()}


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
