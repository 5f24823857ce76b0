"""Canadian Immunization Guide, part 4, rabies vaccines, as updated in January 2015.

The pre-exposure days, both routes: the chapter's key information. "memory": from memory and unchecked.
"""

from __future__ import annotations

import pytest

from tests.sources.doors import Doors
from tests.sources.tables import Row, assert_clears, assert_edges, assert_published, on_days, pep, prep, rows

pytestmark = pytest.mark.django_db

WEAK = "pep-im-0-3-7-14-28-immunocompromised"
TABLE = (
    prep("key information, IM, between 21 and 28", "prep-im-0-7-21", "IM", *on_days(0, 7), (21, 28, 1)),
    prep("key information, ID, between 21 and 28", "prep-id-0-7-21", "ID", *on_days(0, 7), (21, 28, 1)),
    pep("PEP, not immunised (memory)", "pep-im-0-3-7-14", "IM", *on_days(0, 3, 7, 14)),
    pep(
        "PEP, immunocompromised, one more on day 28 (memory)",
        WEAK,
        "IM",
        *on_days(0, 3, 7, 14, 28),
        whom="immunocompromised",
    ),
    pep("PEP, immunised (memory)", "pep-immunised-im-0-3", "IM", *on_days(0, 3), whom="immunised"),
)


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)
    assert_edges(doors, row)


@rows(*TABLE[:2])
def test_who_was_given_the_series_is_clear_from_its_last_dose(row: Row, doors: Doors) -> None:
    assert_clears(doors, row)
