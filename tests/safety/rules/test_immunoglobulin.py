"""Immunoglobulin is asked back about after day 7, twice, and for the immunised; nothing else is, and nothing is computed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from safety.rules.case.immunoglobulin import ImmunoglobulinDoubt, immunoglobulin_doubts, last_day_for

FIRST = date(2026, 3, 2)


def doubts(**changed: object) -> tuple[ImmunoglobulinDoubt, ...]:
    said: dict[str, object] = {
        "given_on": FIRST,
        "first_dose_on": FIRST,
        "given_before": (),
        "complete_on": None,
        "immunocompromised": False,
    }
    return immunoglobulin_doubts(**(said | changed))  # type: ignore[arg-type]


@pytest.mark.parametrize(("day", "late"), [(0, False), (6, False), (7, False), (8, True), (30, True)])
def test_it_is_late_from_day_eight_on(day: int, late: bool) -> None:
    # Up to and including day 7 after the first vaccine dose: WHO 2018 (secondary copy), ACIP 2010.
    found = doubts(given_on=FIRST + timedelta(days=day))
    assert found == ((ImmunoglobulinDoubt.LATE,) if late else ())


@pytest.mark.parametrize(
    ("first", "last"),
    [
        (date(2028, 2, 25), date(2028, 3, 3)),  # over a leap day
        (date(2027, 2, 25), date(2027, 3, 4)),
        (date(2026, 12, 28), date(2027, 1, 4)),
    ],
)
def test_day_seven_runs_over_leap_days_and_ends_of_months(first: date, last: date) -> None:
    assert last_day_for(first) == last
    assert doubts(first_dose_on=first, given_on=last) == ()
    assert doubts(first_dose_on=first, given_on=last + timedelta(days=1)) == (ImmunoglobulinDoubt.LATE,)


def test_before_any_vaccine_dose_no_day_runs() -> None:
    assert last_day_for(None) is None
    assert doubts(first_dose_on=None, given_on=FIRST + timedelta(days=40)) == ()


def test_the_immunised_have_none_by_the_tables_unless_immunocompromised() -> None:
    # None for the immunised: WHO 2018 (secondary copy), ACIP 2010.
    assert doubts(complete_on=date(2026, 1, 5)) == (ImmunoglobulinDoubt.IMMUNISED,)
    assert doubts(complete_on=date(2026, 1, 5), immunocompromised=True) == ()


def test_it_is_given_once() -> None:
    assert doubts(given_before=[FIRST]) == (ImmunoglobulinDoubt.TWICE,)
    everything = doubts(
        given_before=[FIRST], given_on=FIRST + timedelta(days=8), complete_on=date(2026, 1, 5)
    )
    assert everything == tuple(ImmunoglobulinDoubt)
