"""Asian national guidelines, compared in Trop Med Infect Dis 2017;2(3):23: table 2, and section 3.2.3 of its text.

Everything here is read in that comparison, (2nd) for the guidelines themselves. Bhutan: national guideline 2014.
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
    pep,
    prep,
    rows,
)

pytestmark = pytest.mark.django_db

BHUTAN_YEAR = "prep-im-0-7-21-365"
SERIES = (
    prep(
        "table 2, Bangladesh, Bhutan: PrEP, IM, day 21 or 28",
        "prep-im-0-7-21",
        "IM",
        *on_days(0, 7),
        (21, 28, 1),
    ),
    prep(
        "table 2, Bangladesh, Bhutan: PrEP, ID, day 21 or 28",
        "prep-id-0-7-21",
        "ID",
        *on_days(0, 7),
        (21, 28, 1),
    ),
)
TABLE = (
    *SERIES,
    pep("table 2, Bhutan: PEP, IM, five doses", "pep-im-0-3-7-14-28", "IM", *on_days(0, 3, 7, 14, 28)),
    pep(
        "table 2, Bangladesh, Bhutan: PEP, ID, two sites",
        "pep-id-0x2-3x2-7x2-28x2",
        "ID",
        *on_days(0, 3, 7, 28, injections=2),
    ),
    pep(
        "table 2, Bangladesh: PEP, IM, two on day 0",
        "pep-im-0x2-7-21",
        "IM",
        (0, 0, 2),
        (7, 7, 1),
        (21, 21, 1),
    ),
    pep("3.2.3, Malaysia: PEP, IM, four doses", "pep-im-0-3-7-14", "IM", *on_days(0, 3, 7, 14)),
    pep("table 2, Bhutan: re-exposed, IM", "pep-immunised-im-0-3", "IM", *on_days(0, 3), whom="immunised"),
    pep("table 2, Bhutan: re-exposed, ID", "pep-immunised-id-0-3", "ID", *on_days(0, 3), whom="immunised"),
    booster("table 2, Bhutan: booster, one site ID", "booster-id", "ID"),
    prep(
        "table 2, Bhutan: series with the booster at 1 year",
        BHUTAN_YEAR,
        "IM",
        *on_days(0, 7),
        (21, 28, 1),
        (365, 366, 1),
    ),
)
# Section 3.2.3: whose guideline has which regimen into the muscle.
OF_COUNTRIES = {
    "pep-im-0-3-7-14-28": (
        ("Bhutan", "Cambodia", "China", "India", "Philippines", "Sri Lanka", "Taiwan", "Thailand", "Vietnam"),
        [0, 3, 7, 14, 28],
    ),
    "pep-im-0x2-7-21": (
        ("Bangladesh", "Cambodia", "China", "Indonesia", "Pakistan", "Philippines", "Sri Lanka"),
        [0, 0, 7, 21],
    ),
    "pep-im-0-3-7-14": (("Malaysia", "Philippines"), [0, 3, 7, 14]),
}


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)


@rows(*(row for row in TABLE if len(row.visits) > 1))
def test_each_visit_after_day_0_holds_its_edges(row: Row, doors: Doors) -> None:
    assert_edges(doors, row)


@rows(*SERIES)
def test_who_was_given_the_series_is_clear_from_its_last_dose(row: Row, doors: Doors) -> None:
    assert_clears(doors, row)


@pytest.mark.parametrize(
    ("country", "code", "injections"),
    [(country, code, days) for code, (countries, days) in OF_COUNTRIES.items() for country in countries],
    ids=[
        f"3.2.3, {country}: {code}" for code, (countries, _d) in OF_COUNTRIES.items() for country in countries
    ],
)
def test_the_regimen_of_each_country_is_in_the_table(
    country: str, code: str, injections: list[int], doors: Doors
) -> None:
    """One day for each injection."""
    steps = doors.get(f"regimens/{code}/")["steps"]
    assert [step["day"] for step in steps for _each in range(step["injections"])] == injections, country


@pytest.mark.parametrize(
    ("boosters", "last"),
    [
        ((), date(2021, 3, 3)),
        ((date(2021, 3, 2),), date(2024, 3, 2)),
        ((date(2021, 3, 2), date(2024, 3, 2)), date(2027, 3, 2)),
        ((date(2021, 3, 2), date(2024, 2, 29)), date(2027, 2, 28)),
    ],
    ids=["none: a year", "at 1 year: 3 years more", "every 3 years", "every 3 years, on a leap day"],
)
def test_bhutans_booster_at_a_year_and_every_three_years(
    boosters: tuple[date, ...], last: date, doors: Doors
) -> None:
    """Table 2, Bhutan: one site into the skin, for animal handlers and dog catchers. That the anniversary is the
    last day covered (day 366 in the first year) was decided here."""
    doors.use_alone(BHUTAN_YEAR)
    doors.rule(recheck_months=36)
    first = date(2020, 3, 2)
    doors.given(*(first + timedelta(days=day) for day in (0, 7, 21)))
    doors.given(*boosters, route="ID", purpose="booster")
    assert doors.clear(last) == (True, [])
    assert doors.clear(last + timedelta(days=1)) == (False, ["recheck-due"])


def test_bangladesh_has_the_titre_read_every_six_months(doors: Doors) -> None:
    """Table 2, Bangladesh: titres every 6 months, one dose when under 0.5 IU/mL."""
    doors.rule(recheck_months=6)
    doors.given(*(TODAY - timedelta(days=day) for day in (221, 214, 200)))
    assert doors.clear(TODAY) == (False, ["recheck-due"])
    doors.titre(TODAY, "0.49")
    assert "titre-low" in doors.clear(TODAY)[1]
    doors.given(TODAY, purpose="booster")
    assert doors.clear(TODAY) == (True, [])
