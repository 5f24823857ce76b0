"""Washing adds up against the target; fifteen minutes are WHO 2018 (read in a secondary copy) and common practice."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from safety.rules.case.category import Answer
from safety.rules.case.washing import Spell, WashState, WashSummary, wash_summary
from staff.rules.regimen.values import RuleError

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
YES, NO, UNKNOWN = Answer.YES, Answer.NO, Answer.UNKNOWN


def at(seconds: float) -> datetime:
    return NOON + timedelta(seconds=seconds)


def spell(start: float, stop: float | None, soap: Answer = YES) -> Spell:
    return Spell(at(start), None if stop is None else at(stop), soap)


def summary(*spells: Spell, not_washed: bool = False, target: int = 15, now: float = 7200) -> WashSummary:
    return wash_summary(spells=spells, stated_not_washed=not_washed, target_minutes=target, now=at(now))


@pytest.mark.parametrize(
    ("seconds", "state", "short"),
    [
        (0, WashState.SHORT, 900),
        (14 * 60 + 59, WashState.SHORT, 1),
        (14 * 60 + 59.999, WashState.SHORT, 1),
        (15 * 60, WashState.REACHED, 0),
        (20 * 60, WashState.REACHED, 0),
    ],
)
def test_fifteen_minutes_reach_the_target_and_a_second_less_does_not(
    seconds: float, state: WashState, short: int
) -> None:
    assert summary(spell(0, seconds)) == WashSummary(state, int(seconds), short, YES)


def test_not_washed_and_not_recorded_are_different_answers() -> None:
    assert summary() == WashSummary(WashState.NOT_RECORDED, 0, 900, UNKNOWN)
    assert summary(not_washed=True) == WashSummary(WashState.NOT_WASHED, 0, 900, UNKNOWN)


def test_spells_on_record_outweigh_the_statement_that_nothing_was_washed() -> None:
    assert summary(spell(0, 60), not_washed=True).state is WashState.SHORT


def test_spells_add_up_and_overlapping_ones_count_once() -> None:
    assert summary(spell(0, 300), spell(600, 1200)).state is WashState.REACHED
    assert summary(spell(0, 600), spell(300, 899), spell(100, 200)) == WashSummary(
        WashState.SHORT, 899, 1, YES
    )
    assert summary(spell(0, 600), spell(0, 600)).seconds == 600


def test_a_running_clock_shows_its_time_and_never_reaches_the_target_by_itself() -> None:
    assert summary(spell(0, None), now=60) == WashSummary(WashState.RUNNING, 60, 840, YES)
    assert summary(spell(0, None), now=86_400) == WashSummary(WashState.RUNNING, 86_400, 0, YES)
    assert summary(spell(0, 300), spell(400, None), now=460) == WashSummary(WashState.RUNNING, 360, 540, YES)


def test_a_clock_forgotten_after_the_target_was_reached_adds_nothing() -> None:
    assert summary(spell(0, 900), spell(1000, None)) == WashSummary(WashState.REACHED, 900, 0, YES)


def test_a_phone_whose_clock_is_ahead_has_not_washed_yet() -> None:
    assert summary(spell(100, None), now=0) == WashSummary(WashState.RUNNING, 0, 900, YES)


@pytest.mark.parametrize(
    ("spells", "soap"),
    [
        ([spell(0, 60, YES), spell(60, 120, YES)], YES),
        ([spell(0, 60, NO), spell(60, 960, YES)], YES),
        ([spell(0, 60, NO), spell(60, 959, YES)], NO),
        ([spell(0, 60, UNKNOWN), spell(60, 120, YES)], UNKNOWN),
        ([spell(0, 60, UNKNOWN), spell(60, 120, NO)], NO),
        ([spell(0, 60, NO), spell(60, None, YES)], NO),
    ],
)
def test_soap_is_yes_only_when_it_was_there_throughout_or_for_the_whole_target(
    spells: list[Spell], soap: Answer
) -> None:
    assert summary(*spells).soap is soap


def test_a_site_may_ask_for_ten_minutes() -> None:
    assert summary(spell(0, 600), target=10).state is WashState.REACHED


@pytest.mark.parametrize("zone", ["Europe/London", "America/New_York"])
def test_a_change_of_clocks_during_washing_adds_and_takes_nothing(zone: str) -> None:
    local = ZoneInfo(zone)
    for day in (datetime(2026, 3, 8), datetime(2026, 3, 29), datetime(2026, 10, 25), datetime(2026, 11, 1)):
        for minutes in range(0, 9 * 60, 10):
            start = (day.replace(tzinfo=UTC) + timedelta(minutes=minutes)).astimezone(local)
            stop = (start.astimezone(UTC) + timedelta(minutes=15)).astimezone(local)
            taken = wash_summary(
                spells=[Spell(start, stop, YES)], stated_not_washed=False, target_minutes=15, now=stop
            )
            assert taken == WashSummary(WashState.REACHED, 900, 0, YES)


def test_spells_from_phones_in_different_zones_are_one_time() -> None:
    east = timezone(timedelta(hours=5, minutes=30))
    moved = Spell(at(0).astimezone(east), at(600).astimezone(east), YES)
    assert summary(moved, spell(300, 899)).seconds == 899


def test_an_instant_without_a_zone_is_refused() -> None:
    naive = datetime(2026, 3, 2, 12, 0)
    with pytest.raises(RuleError) as caught:
        Spell(naive, None, YES)
    assert caught.value.field == "started_at"
    with pytest.raises(RuleError) as caught:
        Spell(NOON, naive, YES)
    assert caught.value.field == "stopped_at"
    with pytest.raises(RuleError) as caught:
        wash_summary(spells=[], stated_not_washed=False, target_minutes=15, now=naive)
    assert caught.value.field == "now"


def test_stopping_before_starting_and_a_target_of_nothing_are_refused() -> None:
    with pytest.raises(RuleError, match="before it starts"):
        spell(1, 0)
    with pytest.raises(RuleError, match="one minute"):
        summary(target=0)


@given(st.lists(st.tuples(st.integers(0, 1200), st.integers(0, 600)), min_size=1, max_size=6))
def test_the_seconds_are_those_on_which_any_spell_ran(pairs: list[tuple[int, int]]) -> None:
    washed = {second for start, length in pairs for second in range(start, start + length)}
    taken = summary(*[spell(start, start + length) for start, length in pairs])
    assert (taken.seconds, taken.short_seconds) == (len(washed), max(0, 900 - len(washed)))
    assert taken.state is (WashState.REACHED if len(washed) >= 900 else WashState.SHORT)
