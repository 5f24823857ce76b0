"""WHO, Rabies vaccines: position paper, Weekly Epidemiological Record 2010;85(32):309-320.

The visits and the vaccine a regimen takes: Vaccine 2019;37(Suppl 1):A85-A87, table 2 (2nd). "memory": unchecked.
"""

from __future__ import annotations

import pytest

from tests.sources.doors import Doors
from tests.sources.tables import Row, assert_clears, assert_edges, assert_published, on_days, pep, prep, rows

pytestmark = pytest.mark.django_db

SERIES = prep("PrEP, IM, day 21 or 28 (2nd)", "prep-im-0-7-21", "IM", *on_days(0, 7), (21, 28, 1))
TABLE = (
    pep("PEP, IM, five doses", "pep-im-0-3-7-14-28", "IM", *on_days(0, 3, 7, 14, 28)),
    pep("PEP, IM, two on day 0", "pep-im-0x2-7-21", "IM", (0, 0, 2), (7, 7, 1), (21, 21, 1)),
    pep(
        "PEP, ID, two sites (memory)",
        "pep-id-0x2-3x2-7x2-28x2",
        "ID",
        *on_days(0, 3, 7, 28, injections=2),
    ),
    SERIES,
)


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)
    assert_edges(doors, row)


def test_who_was_given_the_series_is_clear_from_its_last_dose(doors: Doors) -> None:
    assert_clears(doors, SERIES)


@pytest.mark.parametrize(
    ("code", "injections", "visits"),
    [("pep-im-0-3-7-14-28", 5, 5), ("pep-id-0x2-3x2-7x2-28x2", 8, 4)],
    ids=["IM, 5 mL at 5 visits (2nd)", "ID, 0.8 mL of 0.1 mL each at 4 visits (2nd)"],
)
def test_the_injections_add_up_to_the_published_volume(
    code: str, injections: int, visits: int, doors: Doors
) -> None:
    steps = doors.get(f"regimens/{code}/")["steps"]
    assert (sum(step["injections"] for step in steps), len(steps)) == (injections, visits)
