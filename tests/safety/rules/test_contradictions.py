"""What in a report doesn't fit together, at the edges. Common practice, no source; the limits are decided here."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from safety.rules.case.category import Answer
from safety.rules.case.contradictions import Contradiction, ReportFacts, contradictions
from safety.rules.case.washing import Spell

BITTEN = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SOUND = ReportFacts(
    happened_at=BITTEN, reported_at=BITTEN + timedelta(minutes=40), happened_on=date(2026, 3, 2)
)
SECOND = timedelta(seconds=1)


def spell(start: datetime, minutes: float | None = 15) -> Spell:
    stop = None if minutes is None else start + timedelta(minutes=minutes)
    return Spell(started_at=start, stopped_at=stop, soap=Answer.YES)


def found(now: datetime = BITTEN + timedelta(hours=1), today: date = date(2026, 3, 2), **changes: object):
    return contradictions(replace(SOUND, **changes), now=now, today=today)


def test_a_bite_washed_and_seen_the_same_day_holds_together() -> None:
    assert found(spells=[spell(BITTEN + timedelta(minutes=2))], visits=[date(2026, 3, 2)]) == ()


@pytest.mark.parametrize(
    ("ahead", "flagged"), [(timedelta(minutes=10), False), (timedelta(minutes=10) + SECOND, True)]
)
def test_ten_minutes_ahead_is_a_clock_and_more_is_the_future(ahead: timedelta, flagged: bool) -> None:
    answer = found(happened_at=SOUND.reported_at + ahead)
    assert (Contradiction.HAPPENED_IN_FUTURE in answer) is flagged


def test_a_wrong_date_doesn_t_become_right_by_waiting() -> None:
    later = BITTEN + timedelta(days=30)
    assert found(now=later, happened_at=BITTEN + timedelta(days=2)) == (Contradiction.HAPPENED_IN_FUTURE,)


@pytest.mark.parametrize(("days", "flagged"), [(365, False), (366, False), (367, True)])
def test_a_report_of_more_than_a_year_ago_is_asked_about(days: int, flagged: bool) -> None:
    answer = found(happened_at=SOUND.reported_at - timedelta(days=days))
    assert (Contradiction.HAPPENED_LONG_AGO in answer) is flagged


@pytest.mark.parametrize(
    ("before", "flagged"), [(timedelta(minutes=10), False), (timedelta(minutes=10) + SECOND, True)]
)
def test_washing_before_the_bite_is_flagged(before: timedelta, flagged: bool) -> None:
    answer = found(spells=[spell(BITTEN - before)])
    assert (Contradiction.WASHED_BEFORE in answer) is flagged


@pytest.mark.parametrize(
    ("length", "flagged"), [(timedelta(hours=3), False), (timedelta(hours=3) + SECOND, True)]
)
@pytest.mark.parametrize("running", [True, False])
def test_a_clock_nobody_stopped_for_three_hours_is_flagged(
    length: timedelta, flagged: bool, running: bool
) -> None:
    washed = spell(BITTEN, None if running else length.total_seconds() / 60)
    assert (Contradiction.WASH_TOO_LONG in found(now=BITTEN + length, spells=[washed])) is flagged


def test_three_hours_are_counted_through_the_night_the_clocks_go_back() -> None:
    lisbon = ZoneInfo("Europe/Lisbon")  # 2026-10-25: 02:00 becomes 01:00.
    start = datetime(2026, 10, 25, 0, 30, tzinfo=lisbon)
    stop = datetime(2026, 10, 25, 3, 0, tzinfo=lisbon)  # Three and a half hours later.
    washed = Spell(started_at=start, stopped_at=stop, soap=Answer.NO)
    answer = found(now=stop, happened_at=start, reported_at=stop, spells=[washed])
    assert answer == (Contradiction.WASH_TOO_LONG,)


def test_washing_that_ends_in_the_future_is_flagged() -> None:
    now = BITTEN + timedelta(minutes=5)
    assert found(now=now, spells=[spell(BITTEN, 15)]) == ()
    assert found(now=now, spells=[spell(BITTEN, 16)]) == (Contradiction.WASH_IN_FUTURE,)


def test_washed_and_stated_not_washed_are_flagged_together_only() -> None:
    assert found(stated_not_washed=True) == ()
    assert found(stated_not_washed=True, spells=[spell(BITTEN)]) == (Contradiction.WASHED_AND_NOT,)


@pytest.mark.parametrize(
    ("day", "flags"),
    [
        (date(2026, 3, 1), (Contradiction.VISIT_BEFORE,)),
        (date(2026, 3, 2), ()),
        (date(2026, 3, 3), (Contradiction.VISIT_IN_FUTURE,)),
    ],
)
def test_a_visit_the_day_before_the_day_and_the_day_after(
    day: date, flags: tuple[Contradiction, ...]
) -> None:
    assert found(visits=[day]) == flags
