"""Australian Immunisation Handbook, rabies and other lyssaviruses, with its booster figure and post-exposure tables.

"(2nd)" isn't needed: the recommendation pages were read, the pre-exposure days in their text before 2024. "memory":
from memory and unchecked.
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

YEAR = "prep-im-0-7-21-365"
SERIES = (
    prep("pre-exposure, IM", "prep-im-0-7-21", "IM", *on_days(0, 7), (21, 28, 1)),
    prep("pre-exposure, ID", "prep-id-0-7-21", "ID", *on_days(0, 7), (21, 28, 1)),
    prep("pre-exposure, IM, two visits (memory)", "prep-im-0-7", "IM", *on_days(0, 7)),
)
TABLE = (
    *SERIES,
    pep("unvaccinated people, immunocompetent (memory)", "pep-im-0-3-7-14", "IM", *on_days(0, 3, 7, 14)),
    pep(
        "unvaccinated people, immunocompromised (memory)",
        "pep-im-0-3-7-14-28-immunocompromised",
        "IM",
        *on_days(0, 3, 7, 14, 28),
        whom="immunocompromised",
    ),
    pep("vaccinated people, immunocompetent", "pep-immunised-im-0-3", "IM", *on_days(0, 3), whom="immunised"),
    booster("ongoing occupational exposure: one booster, IM", "booster-im", "IM"),
    prep(
        "booster figure: the booster a year after the first dose",
        YEAR,
        "IM",
        *on_days(0, 7),
        (21, 28, 1),
        (365, 366, 1),
    ),
)


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
    ("done", "last"),
    [
        ((), date(2021, 3, 3)),
        ((("booster", date(2021, 3, 2)),), date(2024, 3, 2)),
        ((("booster", date(2021, 3, 2)), ("titre", date(2024, 3, 2))), date(2027, 3, 2)),
        ((("booster", date(2021, 3, 2)), ("booster", date(2024, 3, 2))), date(2027, 3, 2)),
        ((("titre", date(2021, 3, 2)),), date(2021, 3, 3)),
    ],
    ids=[
        "none: the year, to day 366",
        "at a year: 3 years",
        "then a titre every 3 years",
        "or a booster every 3 years",
        "a titre at a year is no booster",
    ],
)
def test_a_booster_at_a_year_then_a_titre_or_booster_every_three(
    done: tuple[tuple[str, date], ...], last: date, doors: Doors
) -> None:
    """Booster figure, exposure to bats and terrestrial mammals: first dose on 2 March 2020."""
    doors.use_alone(YEAR)
    doors.rule(recheck_months=36)
    doors.given(*(date(2020, 3, 2) + timedelta(days=day) for day in (0, 7, 21)))
    for kind, day in done:
        if kind == "titre":
            doors.titre(day, "0.50")
        else:
            doors.given(day, purpose="booster")
    assert doors.clear(last) == (True, [])
    assert doors.clear(last + timedelta(days=1)) == (False, ["recheck-due"])


@pytest.mark.parametrize(("value", "clear"), [("0.49", False), ("0.50", True), ("0.51", True)])
def test_laboratory_staff_have_their_titre_read_every_six_months(
    value: str, clear: bool, doors: Doors
) -> None:
    """Booster figure: live virus, every 6 months; under 0.5 IU/mL one booster."""
    doors.rule(recheck_months=6)
    doors.given(*(TODAY - timedelta(days=ago) for ago in (200, 193, 179)))
    doors.titre(TODAY, value)
    assert doors.clear(TODAY)[0] is clear
    assert doors.clear(date(2026, 9, 2))[0] is clear
    assert doors.clear(date(2026, 9, 3))[0] is False


def test_documents_make_somebody_vaccinated_and_a_word_does_not(doors: Doors) -> None:
    """Post-exposure recommendation: without documents of a full course, people are treated as unvaccinated."""
    days = [TODAY - timedelta(days=ago) for ago in (41, 34, 20)]
    doors.given(*days[:2])
    doors.given(days[2], evidence="none")
    assert doors.clear(TODAY) == (False, ["series-incomplete"])
