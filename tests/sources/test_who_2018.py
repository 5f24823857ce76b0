"""WHO, Rabies vaccines: position paper, Weekly Epidemiological Record 2018;93(16):201-220, and TRS 1012 (2018).

"(2nd)": read in a secondary copy. The post-exposure rows stand in the same words in two of them, and the vaccine a
regimen takes in Vaccine 2019;37(Suppl 1):A85-A87, table 2. "memory": from memory and unchecked.
"""

from __future__ import annotations

from datetime import timedelta

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

TABLE = (
    pep(
        "PEP, not immunised, IM four doses (2nd)",
        "pep-im-0-3-7-14to28",
        "IM",
        *on_days(0, 3, 7),
        (14, 28, 1),
    ),
    pep(
        "PEP, not immunised, IM two on day 0 (2nd)",
        "pep-im-0x2-7-21",
        "IM",
        (0, 0, 2),
        (7, 7, 1),
        (21, 21, 1),
    ),
    pep(
        "PEP, not immunised, ID one week (2nd)",
        "pep-id-0x2-3x2-7x2",
        "ID",
        *on_days(0, 3, 7, injections=2),
    ),
    pep("PEP, immunised, IM (2nd)", "pep-immunised-im-0-3", "IM", *on_days(0, 3), whom="immunised"),
    pep("PEP, immunised, ID (2nd)", "pep-immunised-id-0-3", "ID", *on_days(0, 3), whom="immunised"),
    pep("PEP, immunised, ID one visit (2nd)", "pep-immunised-id-0x4", "ID", (0, 0, 4), whom="immunised"),
    prep("PrEP, IM (2nd)", "prep-im-0-7", "IM", *on_days(0, 7)),
    prep(
        "PrEP, ID two injections (days 2nd, injections memory)",
        "prep-id-0-7",
        "ID",
        *on_days(0, 7, injections=2),
    ),
    prep(
        "PrEP, immunocompromised (memory)",
        "prep-im-0-7-21-immunocompromised",
        "IM",
        *on_days(0, 7),
        (21, 28, 1),
        whom="immunocompromised",
    ),
    booster("booster, ID (memory)", "booster-id", "ID"),
)


@rows(*TABLE)
def test_each_row_of_the_table(row: Row, doors: Doors) -> None:
    assert_published(doors, row)


@rows(*(row for row in TABLE if len(row.visits) > 1))
def test_each_visit_after_day_0_holds_its_edges(row: Row, doors: Doors) -> None:
    assert_edges(doors, row)


@rows(*(row for row in TABLE if row.purpose == "pre-exposure" and row.for_whom == "anyone"))
def test_who_was_given_the_series_is_clear_from_its_last_dose(row: Row, doors: Doors) -> None:
    assert_clears(doors, row)


@pytest.mark.parametrize(
    ("code", "tenths"),
    [("pep-im-0-3-7-14to28", None), ("pep-im-0x2-7-21", None), ("pep-id-0x2-3x2-7x2", 6)],
    ids=["IM 4 mL", "IM two on day 0, 4 mL", "ID 0.6 mL"],
)
def test_the_injections_add_up_to_the_published_volume(code: str, tenths: int | None, doors: Doors) -> None:
    """Four whole doses into the muscle, six of 0.1 mL into the skin: table 2 of the overview named above."""
    steps = doors.get(f"regimens/{code}/")["steps"]
    assert sum(step["injections"] for step in steps) == (tenths or 4)


@pytest.mark.parametrize(("value", "clear"), [("0.49", False), ("0.50", True), ("0.51", True)])
def test_half_a_unit_is_adequate(value: str, clear: bool, doors: Doors) -> None:
    """0.5 IU/mL and above (2nd)."""
    doors.given(*(TODAY - timedelta(days=ago) for ago in (41, 34, 20)))
    doors.titre(TODAY, value)
    assert doors.clear(TODAY) == (clear, [] if clear else ["titre-low"])


@pytest.mark.parametrize(
    ("code", "days"),
    [
        ("pep-im-0-3-7-14to28", (0, 3, 7, 14)),
        ("pep-im-0x2-7-21", (0, 7, 21)),
        ("pep-id-0x2-3x2-7x2", (0, 3, 7)),
    ],
    ids=["IM four doses (2nd)", "IM two on day 0 (2nd)", "ID one week (2nd)"],
)
def test_a_complete_documented_course_makes_immunised(code: str, days: tuple[int, ...], doors: Doors) -> None:
    """PEP, immunised: a complete course at any time before, and not one dose less (2nd)."""
    doors.use(code)
    route, first = ("ID" if "-id-" in code else "IM"), TODAY - timedelta(days=200)
    dates = [first + timedelta(days=day) for day in days]
    doors.course(code, *dates[:-1], route=route)
    assert doors.clear(TODAY) == (False, ["no-doses"])
    doors.course(code, dates[-1], route=route)
    assert doors.clear(dates[-1] - timedelta(days=1))[0] is False
    assert doors.clear(dates[-1]) == (True, [])


def test_the_short_course_of_the_immunised_proves_nothing_by_itself(doors: Doors) -> None:
    doors.course("pep-immunised-im-0-3", TODAY - timedelta(days=20), TODAY - timedelta(days=17))
    assert doors.clear(TODAY)[0] is False
