"""How long a wound was washed: spells add up, and not washed, not recorded and too short stay apart."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from safety.rules.case.category import Answer
from staff.rules.regimen.values import RuleError

# WHO 2018, read in a secondary copy; other texts say 10 to 15. Used where no site's own is known.
WASH_MINUTES = 15


class WashState(StrEnum):
    NOT_RECORDED = "not-recorded"
    NOT_WASHED = "not-washed"
    RUNNING = "running"
    SHORT = "short"
    REACHED = "reached"


@dataclass(frozen=True)
class Spell:
    """Washing from one instant to another (aware datetimes); no stop means the clock still runs.

    Raises RuleError for a naive instant, or for a stop before the start.
    """

    started_at: datetime
    stopped_at: datetime | None
    soap: Answer

    def __post_init__(self) -> None:
        for name, instant in (("started_at", self.started_at), ("stopped_at", self.stopped_at)):
            if instant is not None and instant.utcoffset() is None:
                raise RuleError(name, "An instant of washing needs a time zone.", "naive")
        if self.stopped_at is not None and self.stopped_at.astimezone(UTC) < self.started_at.astimezone(UTC):
            raise RuleError("stopped_at", "Washing cannot stop before it starts.", "stop-before-start")


@dataclass(frozen=True)
class WashSummary:
    """Whole seconds washed, and how many are short of the target (0 when reached)."""

    state: WashState
    seconds: int
    short_seconds: int
    soap: Answer


_Span = tuple[datetime, datetime]


def wash_summary(
    *, spells: Iterable[Spell], stated_not_washed: bool, target_minutes: int, now: datetime
) -> WashSummary:
    """Add the spells of one wound up against the target (minutes; a site's setting, WHO says 15).

    Spells that overlap are counted once. A clock still running shows its time up to `now`, yet the target is
    reached only by spells that were stopped: a phone left running proves nothing. Spells on record outweigh a
    statement that the wound was not washed. Soap is yes when every spell had it or those that had it reach the
    target alone, else no when any spell lacked it, else unknown. Times are compared in UTC, so a change of
    clocks adds nothing. Raises RuleError for a naive `now` or a target under one minute.
    """
    if now.utcoffset() is None:
        raise RuleError("now", "The present instant needs a time zone.", "naive")
    if target_minutes < 1:
        raise RuleError("target_minutes", "The washing target must be one minute or more.", "too-small")
    taken = list(spells)
    target = target_minutes * 60
    soap = _soap(taken, target)
    if not taken:
        state = WashState.NOT_WASHED if stated_not_washed else WashState.NOT_RECORDED
        return WashSummary(state, 0, target, soap)
    seconds = _seconds([_span(spell, now) for spell in taken if spell.stopped_at is not None])
    state = WashState.REACHED if seconds >= target else WashState.SHORT
    if state is WashState.SHORT and any(spell.stopped_at is None for spell in taken):
        state = WashState.RUNNING
        seconds = _seconds([_span(spell, now) for spell in taken])
    return WashSummary(state, seconds, max(0, target - seconds), soap)


def _soap(spells: Sequence[Spell], target: int) -> Answer:
    if not spells:
        return Answer.UNKNOWN
    answers = {spell.soap for spell in spells}
    with_soap = [_stopped_span(spell) for spell in spells if spell.soap is Answer.YES]
    if answers == {Answer.YES} or _seconds([span for span in with_soap if span is not None]) >= target:
        return Answer.YES
    return Answer.NO if Answer.NO in answers else Answer.UNKNOWN


def _stopped_span(spell: Spell) -> _Span | None:
    if spell.stopped_at is None:
        return None
    return spell.started_at.astimezone(UTC), spell.stopped_at.astimezone(UTC)


def _span(spell: Spell, now: datetime) -> _Span:
    """The spell in UTC, where subtraction is real time; one that starts after `now` has no length yet."""
    stopped = _stopped_span(spell)
    if stopped is not None:
        return stopped
    started = spell.started_at.astimezone(UTC)
    return started, max(started, now.astimezone(UTC))


def _seconds(spans: Iterable[_Span]) -> int:
    """Whole seconds in the union of the spans."""
    total, reached = timedelta(), None
    for start, stop in sorted(spans):
        begin = start if reached is None else max(start, reached)
        total += max(timedelta(), stop - begin)
        reached = stop if reached is None else max(stop, reached)
    return total // timedelta(seconds=1)
