"""CDC/ACIP, Human rabies prevention, MMWR 2008;57(RR-3):1-28, with published expert answers on deviations (2nd)."""

from __future__ import annotations

import pytest

from tests.sources.doors import TODAY, Doors, days_on
from tests.sources.tables import Row, assert_clears, assert_edges, assert_published, on_days, pep, prep, rows

pytestmark = pytest.mark.django_db

SERIES = prep("PrEP, day 21 or 28", "prep-im-0-7-21", "IM", *on_days(0, 7), (21, 28, 1))
TABLE = (
    pep("PEP, not immunised, five doses", "pep-im-0-3-7-14-28", "IM", *on_days(0, 3, 7, 14, 28)),
    pep("PEP, immunised", "pep-immunised-im-0-3", "IM", *on_days(0, 3), whom="immunised"),
    SERIES,
)


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)
    assert_edges(doors, row)


def test_who_was_given_the_series_is_clear_from_its_last_dose(doors: Doors) -> None:
    assert_clears(doors, SERIES)


@pytest.mark.parametrize(
    ("given", "rest"),
    [
        ((0, 3, 7), (14, 28)),
        ((0, 3, 8), (15, 29)),
        ((0, 3, 10), (17, 31)),
        ((0, 3, 10, 17), (31,)),
        ((0, 3, 10, 20), (34,)),
        ((0, 6), (10, 17, 31)),
    ],
    ids=[
        "in time: 14 and 28",
        "a day late: each a day later",
        "published case: the day-7 dose on day 10, so days 17 and 31 (2nd)",
        "published case, its next dose in time (2nd)",
        "late twice: the gap of 14 days stays",
        "the day-3 dose late: every gap stays",
    ],
)
def test_a_late_dose_keeps_the_gaps_of_those_that_remain(
    given: tuple[int, ...], rest: tuple[int, ...], doors: Doors
) -> None:
    steps = doors.schedule("pep-im-0-3-7-14-28", TODAY, given)
    assert [step["due_on"] for step in steps if step["given_on"] is None] == days_on(TODAY, rest)
    assert [step["given_on"] for step in steps if step["given_on"]] == days_on(TODAY, given)
