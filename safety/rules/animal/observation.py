"""How long the animal is watched, what its days say, and when somebody must be told.

WHO 2018 (read in a secondary copy): a dog or cat is watched for ten days; an authority may ask for more. Watching never
delays the first dose, and a course stops on the clinician's word alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from staff.rules.regimen.values import RuleError

ONE_DAY = timedelta(days=1)
# So long after the last day a missed last check can be made good by the link, and is asked for by a notice each
# morning; the desk asks for ever. Common practice, no source.
GRACE = timedelta(days=7)


class Seen(StrEnum):
    """What a day's check saw."""

    WELL = "well"
    ILL = "ill"
    NOT_SEEN = "not-seen"
    ESCAPED = "escaped"
    DIED = "died"
    KILLED = "killed"


class Outcome(StrEnum):
    """What an officer or liaison put on record of the animal. The last three are the laboratory's answer."""

    WELL = "well"
    ILL = "ill"
    ESCAPED = "escaped"
    DIED = "died"
    KILLED = "killed"
    SAMPLED = "sampled"
    FOUND = "found"
    NOT_FOUND = "not-found"
    UNFIT = "unfit"


class Watch(StrEnum):
    """Where an observation stands."""

    WATCHING = "watching"
    LAST_DAY = "last-day"
    LABORATORY = "laboratory"
    ENDED = "ended"


class Objection(StrEnum):
    """Why an outcome can't be recorded as things stand."""

    TOO_EARLY = "too-early"
    LAST_CHECK_MISSING = "last-check-missing"
    NOT_ALIVE = "not-alive"
    SAYS_NOBODY_JUDGED = "says-nobody-judged"
    NO_SAMPLE = "no-sample"
    SAMPLE_ON_RECORD = "sample-on-record"
    ALREADY_SO = "already-so"


ALARMING = frozenset({Seen.ILL, Seen.ESCAPED, Seen.DIED, Seen.KILLED})
LABORATORY_SAID = frozenset({Outcome.FOUND, Outcome.NOT_FOUND, Outcome.UNFIT})
# After these nobody watches the animal any more; signs are seen in an animal that still is.
ENDING = frozenset(Outcome) - {Outcome.ILL}


@dataclass(frozen=True)
class CheckFact:
    """One check that stands, in the order they were made."""

    day: date
    seen: Seen


@dataclass(frozen=True)
class Term:
    """The days of an observation in the site's calendar; `asked_from` is the first whose check is asked for."""

    first_on: date
    last_on: date
    asked_from: date

    def days(self) -> list[date]:
        """The days whose check is asked for, oldest first."""
        count = (self.last_on - self.asked_from).days + 1
        return [self.asked_from + timedelta(days=n) for n in range(max(count, 0))]


def observation_ends_on(started_on: date, days: int) -> date:
    """The last day of observation: the exposure is day 0, so ten days end on day 10 (dogs and cats, WHO 2018).

    `days` is the site's setting (10, in one country 14). Raises RuleError when it is under 1.
    """
    if days < 1:
        raise RuleError("days", "Observation lasts one day or more.", "too-small")
    return started_on + timedelta(days=days)


def term_of(*, first_on: date, last_on: date, begun_on: date) -> Term:
    """Day 0 is the exposure, when the animal was seen; a watch begun later asks from the day it was begun."""
    return Term(first_on, last_on, max(first_on + ONE_DAY, begun_on))


def words_of_days(checks: Sequence[CheckFact]) -> dict[date, Seen]:
    """The newest word of each day."""
    return {check.day: check.seen for check in checks}


def watch_state(*, last_on: date, outcomes: Sequence[Outcome], today: date) -> Watch:
    """`outcomes` are those that stand, oldest first: the newest but for signs says where it stands."""
    ended = [outcome for outcome in outcomes if outcome in ENDING]
    if ended:
        return Watch.LABORATORY if ended[-1] == Outcome.SAMPLED else Watch.ENDED
    return Watch.LAST_DAY if today >= last_on else Watch.WATCHING


def unseen_twice(words: Mapping[date, Seen]) -> list[date]:
    """The days on which nobody saw the animal, as on the day before."""
    return sorted(
        day
        for day, seen in words.items()
        if seen == Seen.NOT_SEEN and words.get(day - ONE_DAY) == Seen.NOT_SEEN
    )


def missing_days(term: Term, words: Mapping[date, Seen], today: date) -> list[date]:
    """The days before today whose check is asked for and on record nowhere."""
    return [day for day in term.days() if day < today and day not in words]


def asks_this_morning(term: Term, words: Mapping[date, Seen], state: Watch, today: date) -> bool:
    """Whether yesterday left something undone: its check, or from the last day on how the observation ended."""
    yesterday = today - ONE_DAY
    if state not in (Watch.WATCHING, Watch.LAST_DAY) or yesterday < term.asked_from:
        return False
    if yesterday >= term.last_on:
        return yesterday <= term.last_on + GRACE
    return yesterday not in words


def link_open(term: Term, state: Watch, today: date) -> bool:
    """Whether the private link still takes a word: while the animal is watched, and a few days for a missed last check."""
    return state in (Watch.WATCHING, Watch.LAST_DAY) and today <= term.last_on + GRACE


def objection_to(
    outcome: Outcome,
    *,
    last_on: date,
    checks: Sequence[CheckFact],
    outcomes: Sequence[Outcome],
    note: str,
    today: date,
) -> Objection | None:
    """What stands against recording `outcome` today, or None.

    "Well at the end" is what a course may be stopped on, so it asks for the last day and a check of that day or later
    that says well; signs seen meanwhile need a note of who judged them.
    """
    sampled = [one for one in outcomes if one == Outcome.SAMPLED or one in LABORATORY_SAID]
    if outcome in LABORATORY_SAID:
        return None if sampled[-1:] == [Outcome.SAMPLED] else Objection.NO_SAMPLE
    if outcome == Outcome.SAMPLED:
        return None if sampled[-1:] in ([], [Outcome.UNFIT]) else Objection.SAMPLE_ON_RECORD
    if outcome == Outcome.WELL:
        return _objection_to_well(last_on, checks, outcomes, note, today)
    return Objection.ALREADY_SO if outcome in ENDING and outcome in outcomes else None


def _objection_to_well(
    last_on: date, checks: Sequence[CheckFact], outcomes: Sequence[Outcome], note: str, today: date
) -> Objection | None:
    seen = {check.seen for check in checks}
    if any(one in ENDING for one in outcomes) or seen & {Seen.DIED, Seen.KILLED}:
        return Objection.NOT_ALIVE
    if today < last_on:
        return Objection.TOO_EARLY
    last = max(checks, key=lambda check: check.day, default=None)
    words = words_of_days(checks)
    if last is None or last.day < last_on or words[last.day] != Seen.WELL:
        return Objection.LAST_CHECK_MISSING
    judged = Outcome.ILL in outcomes or bool(seen & ALARMING)
    return Objection.SAYS_NOBODY_JUDGED if judged and not note.strip() else None
