"""UK Health Security Agency: rabies post-exposure summary of 1 May 2024, and Green Book chapter 27 (revised 2018).

The summary's treatment table reads the same in a copy of the later text of 2025 (2nd). The days of the Green Book:
a notice of its revision (2nd).
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.sources.doors import TODAY, Doors
from tests.sources.tables import Row, assert_clears, assert_edges, assert_published, on_days, pep, prep, rows

pytestmark = pytest.mark.django_db

FAST = "prep-im-0-3-7-365"
TABLE = (
    pep("summary, not or partly immunised", "pep-im-0-3-7-21", "IM", *on_days(0, 3, 7, 21)),
    pep(
        "summary, immunosuppressed",
        "pep-im-0-3-7-14-30-immunocompromised",
        "IM",
        *on_days(0, 3, 7, 14, 30),
        whom="immunocompromised",
    ),
    pep("summary, fully immunised", "pep-immunised-im-0-3to7", "IM", (0, 0, 1), (3, 7, 1), whom="immunised"),
    # 14 days after the second dose it counts: CDC CDSi 4.64.
    prep("Green Book, days 0, 7 and 28 (2nd)", "prep-im-0-7-28", "IM", *on_days(0, 7, 28))._replace(
        counts_from=((28, 21),)
    ),
    prep("Green Book, 21 to 28 (2nd)", "prep-im-0-7-21", "IM", *on_days(0, 7), (21, 28, 1)),
    prep("Green Book, fast, one more at a year (2nd)", FAST, "IM", *on_days(0, 3, 7), (365, 366, 1)),
)


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)
    assert_edges(doors, row)


@rows(*TABLE[3:5])
def test_who_was_given_the_series_is_clear_from_its_last_dose(row: Row, doors: Doors) -> None:
    assert_clears(doors, row)


@pytest.mark.parametrize(
    ("ago", "boosted", "clear"),
    [
        (7, False, True),
        (6, False, False),
        (366, False, True),
        (367, False, False),
        (367, True, True),
        (3000, True, True),
    ],
    ids=[
        "clear on day 7",
        "not on day 6",
        "kept through day 366",
        "lapsed on day 367",
        "kept by the dose at a year",
        "kept for good by the dose at a year",
    ],
)
def test_the_fast_series_holds_for_a_year_and_with_its_last_dose_beyond(
    ago: int, boosted: bool, clear: bool, doors: Doors
) -> None:
    """That the anniversary may fall on day 366 (across a 29 February) was decided here."""
    doors.use(FAST)
    first = TODAY - timedelta(days=400)
    doors.given(*(first + timedelta(days=day) for day in (0, 3, 7)))
    if boosted:
        doors.given(first + timedelta(days=365))
    found = doors.clear(first + timedelta(days=ago))
    assert found[0] is clear
    if ago == 367 and not boosted:
        assert found[1] == ["recheck-due"]


@pytest.mark.parametrize(
    ("given", "counts"),
    [((0, 2), False), ((0, 3), True), ((0, 3, 6), False), ((0, 3, 7), True)],
    ids=["fast, day 2", "fast, day 3", "fast, day 6", "fast, day 7"],
)
def test_no_dose_of_the_fast_series_counts_early(given: tuple[int, ...], counts: bool, doors: Doors) -> None:
    """Days: Green Book. That a day early does not count was decided here, as in CDC CDSi 4.64 (no days of grace)."""
    assert doors.series(FAST, given)["doses"][-1]["counts"] is counts


def test_somebody_partly_immunised_is_not_immunised(doors: Doors) -> None:
    """Summary: partly immunised stands in one column with not immunised."""
    doors.given(TODAY - timedelta(days=60), TODAY - timedelta(days=53))
    assert doors.clear(TODAY) == (False, ["series-incomplete"])
