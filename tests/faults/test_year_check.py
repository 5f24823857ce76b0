"""The recomputation of the simulated year finds what is wrong: checked by hand where it is small."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from tests.faults.year_check import (
    Address,
    Begun,
    Event,
    Given,
    Recomputed,
    SiteFacts,
    Voided,
    hour_on,
    planned,
)

AT = datetime(2025, 3, 3, 9, tzinfo=UTC)
DAY = timedelta(days=1)
FIVE = ((0, 0, 0), (3, 3, 3), (7, 7, 4), (14, 14, 7), (28, 28, 14))
SITE = SiteFacts("Africa/Nairobi", 7, ("liaison@x",), ("officer@x",))


def course(rule: str = "keep-gaps", restart_after: int | None = None) -> Begun:
    return Begun(AT, 1, "hillside", 1, FIVE, rule, restart_after, date(2025, 3, 3))


def march(*days: int) -> list[date]:
    return [date(2025, 3, 1) + (day - 1) * DAY for day in days]


def due(rule: str, *given: int, restart_after: int | None = None) -> list[date]:
    return [row[1] for row in planned(course(rule, restart_after), march(*given))]


def test_the_published_example_of_a_late_dose_comes_out() -> None:
    # ACIP, MMWR 2010;59(RR-2): day 7 given on day 10, so the next are due on days 17 and 31 (day 0 is 3 March here).
    assert due("keep-gaps", 3, 6, 13) == march(3, 6, 10, 20, 34)
    assert due("keep-calendar", 3, 6, 13) == march(3, 6, 10, 17, 31)


def test_a_dose_too_early_counts_for_nothing_and_a_very_late_one_starts_again() -> None:
    assert due("keep-gaps", 3, 4) == march(3, 6, 10, 17, 31)
    assert due("restart", 3, 12, restart_after=5) == march(12, 15, 19, 26, 40)
    assert due("restart", 3, 11, restart_after=5) == march(3, 6, 15, 22, 36)


def test_an_hour_that_the_clocks_leave_out_is_the_first_minute_after_it() -> None:
    # The clocks of Santiago went from midnight to one o'clock on 7 September 2025 (IANA time zone database).
    assert hour_on("America/Santiago", date(2025, 9, 7), 0) == datetime(2025, 9, 7, 4, tzinfo=UTC)
    assert hour_on("Africa/Nairobi", date(2025, 9, 7), 7) == datetime(2025, 9, 7, 4, tzinfo=UTC)


def test_each_day_of_a_dose_is_told_to_whom_the_plan_names_until_it_is_recorded() -> None:
    events: list[Event] = [Address(AT, 1, "member@x"), course(), Given(AT, 1, 11, date(2025, 3, 3))]
    events += [Given(datetime(2025, 3, 9, 12, tzinfo=UTC), 1, 12, date(2025, 3, 9))]
    looks = [AT, *(datetime(2025, 3, day, 4, tzinfo=UTC) for day in range(4, 11))]
    told = Recomputed(events, {"hillside": SITE}, looks).told
    of_second = sorted((key[4].day, key[3], key[5]) for key in told if key[1] == 2)
    both, all_three = ("liaison@x", "member@x"), ("liaison@x", "member@x", "officer@x")
    assert of_second == sorted(
        [(5, "day-before", who) for who in both]
        + [(6, "day-of", who) for who in both]
        + [(7, "day-after", who) for who in all_three]
        + [(day, "overdue", who) for day in (8, 9) for who in all_three]
    )


def test_a_voided_dose_is_due_again() -> None:
    first = Given(AT, 1, 11, date(2025, 3, 3))
    looks = [AT, AT + DAY]
    found = Recomputed([course(), first, Voided(AT + DAY, 1, 11)], {"hillside": SITE}, looks)
    assert [row[3] for row in found.plans[AT][1]] == [date(2025, 3, 3), None, None, None, None]
    assert [row[3] for row in found.plans[AT + DAY][1]] == [None] * 5
