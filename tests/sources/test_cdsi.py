"""CDC Clinical Decision Support for Immunization, supporting data 4.64, antigen Rabies: smallest gaps, no days of grace.

"Exactly 7 days" is decided here: one published table names only "under" and "over".
"""

from __future__ import annotations

import pytest

from tests.sources.doors import TODAY, Doors, days_on

pytestmark = pytest.mark.django_db

THREE, TWO = "prep-im-0-7-21", "prep-im-0-7"
# Where it stands; regimen; days given; whether the last of them counts; how many days too early.
GAPS = [
    *((f"dose 2, day {day}: no grace", THREE, (0, day), False, 7 - day) for day in (1, 3, 4, 5, 6)),
    ("dose 2, day 7: exactly (decided here)", THREE, (0, 7), True, 0),
    ("dose 2, day 8", THREE, (0, 8), True, 0),
    ("two-dose series, dose 2, day 6", TWO, (0, 6), False, 1),
    ("two-dose series, dose 2, day 7", TWO, (0, 7), True, 0),
    ("two-dose series, dose 2, day 8", TWO, (0, 8), True, 0),
    *(
        (f"dose 3, {gap} days after: no grace", THREE, (0, 7, 7 + gap), False, 14 - gap)
        for gap in (10, 11, 12, 13)
    ),
    ("dose 3, 14 days after", THREE, (0, 7, 21), True, 0),
    ("dose 3, 15 days after", THREE, (0, 7, 22), True, 0),
    ("dose 3, 21 days after: the end of the window", THREE, (0, 7, 28), True, 0),
    ("dose 3, 22 days after: late, yet counts", THREE, (0, 7, 29), True, 0),
    ("dose 3, a year after: late, yet counts", THREE, (0, 7, 372), True, 0),
    ("dose 2 late, dose 3 13 days after it", THREE, (0, 10, 23), False, 1),
    ("dose 2 late, dose 3 14 days after it", THREE, (0, 10, 24), True, 0),
    ("dose 2 a year late, yet counts", THREE, (0, 365), True, 0),
]


@pytest.mark.parametrize(("where", "code", "given", "counts", "early"), GAPS, ids=[row[0] for row in GAPS])
def test_each_gap(
    where: str, code: str, given: tuple[int, ...], counts: bool, early: int, doors: Doors
) -> None:
    found = doors.series(code, given)
    last = found["doses"][-1]
    assert (last["given_on"], last["counts"], last["step"]) == (
        days_on(TODAY, given)[-1],
        counts,
        len(given) if counts else None,
    )
    assert last["reason_code"] == (None if counts else "too-early")
    assert last["reason"] == (None if counts else f"{early} day{'' if early == 1 else 's'} too early.")
    assert all(dose["counts"] for dose in found["doses"][:-1])
    assert found["valid_doses"] == len(given) - (not counts)


@pytest.mark.parametrize(
    ("given", "earliest", "due", "latest"),
    [((0,), 7, 7, 7), ((0, 7), 21, 21, 28), ((0, 10), 24, 24, 31)],
    ids=["dose 2", "dose 3: 14 to 21 days after", "dose 3 after a late dose 2"],
)
def test_the_next_dose_is_dated_by_the_gaps(
    given: tuple[int, ...], earliest: int, due: int, latest: int, doors: Doors
) -> None:
    found = doors.series(THREE, given)["next"]
    told = [found["earliest_on"], found["due_on"], found["latest_on"]]
    assert told == days_on(TODAY, (earliest, due, latest))


def test_after_an_early_dose_the_gap_runs_from_the_last_that_counted(doors: Doors) -> None:
    """Decided here, against CDSi's general logic, which measures from the early dose: one more dose of an
    inactivated vaccine never makes anybody less protected on paper."""
    found = doors.series(THREE, (0, 6, 7, 21))
    assert [dose["counts"] for dose in found["doses"]] == [True, False, True, True]
    assert found["complete_on"] == days_on(TODAY, [21])[0]


@pytest.mark.parametrize("code", [THREE, TWO, "prep-id-0-7-21", "prep-im-0-7-28", "prep-im-0-7-21-365"])
def test_every_sample_asks_for_these_gaps(code: str, doors: Doors) -> None:
    steps = doors.get(f"regimens/{code}/")["steps"]
    assert [step["smallest_gap"] for step in steps if not step["later"]] == [0, 7, 14][: len(steps)]
