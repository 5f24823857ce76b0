"""CDC/ACIP, Use of a reduced (4-dose) vaccine schedule for postexposure prophylaxis, MMWR 2010;59(RR-2):1-9."""

from __future__ import annotations

import pytest

from tests.sources.doors import TODAY, Doors, days_on
from tests.sources.tables import Row, assert_clears, assert_edges, assert_published, on_days, pep, prep, rows

pytestmark = pytest.mark.django_db

WEAK = "pep-im-0-3-7-14-28-immunocompromised"
SERIES = prep("PrEP unchanged, day 21 or 28", "prep-im-0-7-21", "IM", *on_days(0, 7), (21, 28, 1))
TABLE = (
    pep("PEP, not immunised, four doses", "pep-im-0-3-7-14", "IM", *on_days(0, 3, 7, 14)),
    pep("PEP, altered immunity, five doses", WEAK, "IM", *on_days(0, 3, 7, 14, 28), whom="immunocompromised"),
    pep("PEP, immunised, unchanged", "pep-immunised-im-0-3", "IM", *on_days(0, 3), whom="immunised"),
    SERIES,
)


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)
    assert_edges(doors, row)


def test_who_was_given_the_series_is_clear_from_its_last_dose(doors: Doors) -> None:
    assert_clears(doors, SERIES)


def test_the_fifth_dose_is_dropped_and_the_others_stay(doors: Doors) -> None:
    """The report's change against 2008: the same days but for day 28."""
    five = [step["due_on"] for step in doors.schedule("pep-im-0-3-7-14-28", TODAY)]
    four = [step["due_on"] for step in doors.schedule("pep-im-0-3-7-14", TODAY)]
    assert (four, five[4:]) == (five[:4], days_on(TODAY, [28]))


def test_the_titre_after_the_course_of_the_immunocompromised_stands_in_its_name(doors: Doors) -> None:
    """7 to 14 days after the last dose. The clinician orders it, so the program computes no date."""
    assert "titre 7 to 14 days after the last" in doors.get(f"regimens/{WEAK}/")["name"]
