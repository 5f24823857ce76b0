"""What a clinic's answer is asked back about (regimens by person: WHO 2018 in a secondary copy, ACIP 2010)."""

from __future__ import annotations

from datetime import date

import pytest

from safety.rules.case.answer_doubts import date_disagrees, immunoglobulin_disagrees, regimen_disagrees
from safety.rules.case.exposed_person import ImmuneStatus
from staff.rules.regimen.values import Purpose

COURSE, IMMUNISED = Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED


@pytest.mark.parametrize(
    ("status", "purpose", "for_whom", "asked"),
    [
        (ImmuneStatus.IMMUNISED, COURSE, "not-immunised", True),
        (ImmuneStatus.IMMUNISED, COURSE, "anyone", True),
        (ImmuneStatus.IMMUNISED, IMMUNISED, "immunised", False),
        (ImmuneStatus.NOT_IMMUNISED, IMMUNISED, "immunised", True),
        (ImmuneStatus.NOT_IMMUNISED, COURSE, "immunocompromised", True),
        (ImmuneStatus.NOT_IMMUNISED, COURSE, "anyone", False),
        (ImmuneStatus.IMMUNOCOMPROMISED, COURSE, "not-immunised", True),
        (ImmuneStatus.IMMUNOCOMPROMISED, COURSE, "immunocompromised", False),
        (ImmuneStatus.RECENT_COURSE, COURSE, "not-immunised", False),
    ],
)
def test_a_regimen_for_somebody_else_is_asked_about(
    status: ImmuneStatus, purpose: Purpose, for_whom: str, asked: bool
) -> None:
    assert regimen_disagrees(status, purpose=purpose, for_whom=for_whom) is asked


@pytest.mark.parametrize(
    ("given", "complete", "weak", "asked"),
    [
        (True, True, False, True),
        (True, True, True, False),
        (True, False, False, False),
        (False, True, False, False),
    ],
)
def test_immunoglobulin_for_the_immunised_is_asked_about(
    given: bool, complete: bool, weak: bool, asked: bool
) -> None:
    since = date(2026, 1, 1) if complete else None
    assert immunoglobulin_disagrees(given=given, complete_on=since, immunocompromised=weak) is asked


@pytest.mark.parametrize(("day", "differs"), [(13, True), (14, False), (28, False), (29, True)])
def test_any_date_in_the_window_agrees(day: int, differs: bool) -> None:
    """The fourth dose between days 14 and 28 (WHO position paper 2018, secondary copy)."""
    assert date_disagrees(date(2026, 3, day), date(2026, 3, 14), date(2026, 3, 28)) is differs
