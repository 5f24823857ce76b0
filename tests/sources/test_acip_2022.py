"""CDC/ACIP, Use of a modified preexposure prophylaxis vaccination schedule, MMWR 2022;71(18):619-627.

The recommendations, the table of risk categories and the figure on long-term immunogenicity. That the anniversary is
the last day covered, and a month's last day where the month is too short, was decided here.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.sources.doors import TODAY, Doors
from tests.sources.tables import (
    Row,
    assert_clears,
    assert_edges,
    assert_published,
    booster,
    on_days,
    prep,
    rows,
)

pytestmark = pytest.mark.django_db

TWO = "prep-im-0-7"
SERIES = prep("recommendations: two doses, IM", TWO, "IM", *on_days(0, 7))


@rows(SERIES, booster("recommendations: one booster, IM", "booster-im", "IM"))
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)


@rows(SERIES)
def test_each_visit_after_day_0_holds_its_edges(row: Row, doors: Doors) -> None:
    assert_edges(doors, row)


def test_who_was_given_the_series_is_clear_from_its_last_dose(doors: Doors) -> None:
    assert_clears(doors, SERIES)


def two_doses(doors: Doors, complete_on: date, **rules: int) -> None:
    doors.use(TWO, doses_required=2)
    doors.rule(**rules)
    doors.given(complete_on - timedelta(days=7), complete_on)


# Where it stands; months; day of the second dose; last day covered.
TERMS = [
    ("table, category 1: titre every 6 months", 6, date(2026, 2, 10), date(2026, 8, 10)),
    ("table, category 1, from a month's end", 6, date(2025, 8, 31), date(2026, 2, 28)),
    ("table, category 2: titre every 2 years", 24, date(2026, 2, 10), date(2028, 2, 10)),
    ("table, category 2, from a leap day", 24, date(2024, 2, 29), date(2026, 2, 28)),
    ("table, category 3: within 3 years", 36, date(2026, 2, 10), date(2029, 2, 10)),
    ("table, category 3, onto a leap day's eve", 36, date(2025, 2, 28), date(2028, 2, 28)),
]


@pytest.mark.parametrize(("where", "months", "complete", "last"), TERMS, ids=[row[0] for row in TERMS])
def test_without_titre_or_booster_it_lapses_after_the_term(
    where: str, months: int, complete: date, last: date, doors: Doors
) -> None:
    two_doses(doors, complete, recheck_months=months)
    assert doors.clear(last - timedelta(days=1)) == (True, []), where
    assert doors.clear(last) == (True, []), where
    assert doors.clear(last + timedelta(days=1)) == (False, ["recheck-due"]), where


def test_category_4_asks_for_nothing_more(doors: Doors) -> None:
    """Table: three years or less of risk, no titre and no booster. A site that asks for no re-check."""
    doors.use(TWO, doses_required=2)
    doors.given(date(2026, 2, 3), date(2026, 2, 10))
    assert doors.clear(date(2029, 2, 10)) == (True, [])


@pytest.mark.parametrize(
    ("value", "codes"),
    [("0.49", ["titre-low"]), ("0.50", []), ("0.51", [])],
    ids=["0.49: a booster is due", "0.5 is enough", "0.51"],
)
def test_the_titre_of_a_check(value: str, codes: list[str], doors: Doors) -> None:
    """Recommendations: a booster when under 0.5 IU/mL, which puts it right from the day it is given."""
    two_doses(doors, date(2024, 6, 10), recheck_months=24)
    doors.titre(date(2026, 2, 2), value)
    assert doors.clear(TODAY) == (not codes, codes)
    if codes:
        doors.given(TODAY, purpose="booster")
        assert doors.clear(TODAY - timedelta(days=1)) == (False, codes)
        assert doors.clear(TODAY) == (True, [])


def test_an_adequate_titre_of_category_2_lasts_two_years_more(doors: Doors) -> None:
    two_doses(doors, date(2023, 6, 10), recheck_months=24)
    doors.titre(date(2025, 5, 5), "0.50")
    assert doors.clear(date(2027, 5, 5)) == (True, [])
    assert doors.clear(date(2027, 5, 6)) == (False, ["recheck-due"])


# Days 0 and 7 are 3 and 10 January 2022; day 21 is 24 January, one year on 10 January 2023, year 3 ends 10 January 2025.
ONCE = [
    ("figure: booster on day 20, too soon to last", "booster", date(2022, 1, 23), date(2025, 1, 23)),
    ("figure: booster on day 21", "booster", date(2022, 1, 24), None),
    ("figure: booster on day 22", "booster", date(2022, 1, 25), None),
    ("figure: booster on the last day of year 3", "booster", date(2025, 1, 10), None),
    ("figure: titre the day before year 1", "titre", date(2023, 1, 9), date(2026, 1, 9)),
    ("figure: titre at one year", "titre", date(2023, 1, 10), None),
    ("figure: titre on the last day of year 3", "titre", date(2025, 1, 10), None),
]


@pytest.mark.parametrize(("where", "kind", "day", "last"), ONCE, ids=[row[0] for row in ONCE])
def test_category_3_is_checked_or_boosted_once(
    where: str, kind: str, day: date, last: date | None, doors: Doors
) -> None:
    """A booster from day 21 to year 3, or a titre in years 1 to 3, and nothing after that. One that came sooner
    lasts three years only (decided here)."""
    two_doses(doors, date(2022, 1, 10), recheck_months=36, recheck_once=True)
    if kind == "booster":
        doors.given(day, purpose="booster")
    else:
        doors.titre(day, "0.50")
    assert doors.clear(last or date(2060, 1, 1)) == (True, []), where
    if last:
        assert doors.clear(last + timedelta(days=1)) == (False, ["recheck-due"]), where


def test_category_3_late_is_lapsed_until_it_is_done_and_then_settled(doors: Doors) -> None:
    """Lapsed from the day after year 3 to the booster. From its day on it holds (decided here)."""
    two_doses(doors, date(2022, 1, 10), recheck_months=36, recheck_once=True)
    doors.given(date(2025, 3, 3), purpose="booster")
    assert doors.clear(date(2025, 1, 11)) == (False, ["recheck-due"])
    assert doors.clear(date(2025, 3, 2)) == (False, ["recheck-due"])
    assert doors.clear(date(2025, 3, 3)) == (True, [])
    assert doors.clear(date(2060, 1, 1)) == (True, [])


def test_category_3_with_a_low_titre_waits_for_the_booster(doors: Doors) -> None:
    two_doses(doors, date(2022, 1, 10), recheck_months=36, recheck_once=True)
    doors.titre(date(2023, 6, 1), "0.49")
    assert doors.clear(date(2023, 6, 1)) == (False, ["titre-low"])
    doors.given(date(2023, 6, 2), purpose="booster")
    assert doors.clear(date(2060, 1, 1)) == (True, [])


def test_the_immunocompromised_need_more_than_the_table_so_a_clinician_is_asked(doors: Doors) -> None:
    """Clinical guidance: additional considerations. The program proposes no dose and no titre."""
    two_doses(doors, TODAY - timedelta(days=30), recheck_months=6)
    doors.immunocompromised()
    found = doors.explained()
    assert found["cleared"] is False
    assert [link["codes"] for link in found["chain"] if not link["met"]] == [["letter-needed"]]
    assert [action["kind"] for action in found["actions"]] == ["decision"]
