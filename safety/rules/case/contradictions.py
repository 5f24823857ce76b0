"""What in a report doesn't fit together. A report is kept as it came; an officer is told what to ask about."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from safety.rules.case.washing import Spell

# A phone's clock may be a little ahead of ours, and a report gives the minute at best.
CLOCK_SLACK = timedelta(minutes=10)
# Fifteen minutes is the target; a spell of hours is a clock that nobody stopped (common practice, no source).
LONGEST_SPELL = timedelta(hours=3)
# A report may lie unsent on a phone for weeks; after this the year is more likely wrong than the network.
OLDEST = timedelta(days=366)


class Contradiction(StrEnum):
    HAPPENED_IN_FUTURE = "happened-in-future"
    HAPPENED_LONG_AGO = "happened-long-ago"
    WASHED_BEFORE = "washed-before"
    WASH_IN_FUTURE = "wash-in-future"
    WASH_TOO_LONG = "wash-too-long"
    WASHED_AND_NOT = "washed-and-not"
    VISIT_BEFORE = "visit-before"
    VISIT_IN_FUTURE = "visit-in-future"


@dataclass(frozen=True)
class ReportFacts:
    """What a case says of its times: aware instants, and visits as dates of the site's calendar.

    `happened_on` is the site's date of `happened_at`; `today` the site's date at `now`.
    """

    happened_at: datetime
    reported_at: datetime
    happened_on: date
    spells: Sequence[Spell] = ()
    stated_not_washed: bool = False
    visits: Sequence[date] = ()


def contradictions(facts: ReportFacts, *, now: datetime, today: date) -> tuple[Contradiction, ...]:
    """Everything that can't be right together, in the order of the list above; none is no proof that all is.

    The future is measured against when the report came in, so that waiting doesn't make a wrong clock right.
    """
    found = {
        Contradiction.HAPPENED_IN_FUTURE: _later(facts.happened_at, facts.reported_at + CLOCK_SLACK),
        Contradiction.HAPPENED_LONG_AGO: _later(facts.reported_at - OLDEST, facts.happened_at),
        Contradiction.WASHED_BEFORE: any(
            _later(facts.happened_at - CLOCK_SLACK, spell.started_at) for spell in facts.spells
        ),
        Contradiction.WASH_IN_FUTURE: _any_later(facts.spells, now + CLOCK_SLACK),
        Contradiction.WASH_TOO_LONG: any(
            _later(spell.stopped_at or now, spell.started_at.astimezone(UTC) + LONGEST_SPELL)
            for spell in facts.spells
        ),
        Contradiction.WASHED_AND_NOT: facts.stated_not_washed and bool(facts.spells),
        Contradiction.VISIT_BEFORE: any(visit < facts.happened_on for visit in facts.visits),
        Contradiction.VISIT_IN_FUTURE: any(visit > today for visit in facts.visits),
    }
    return tuple(kind for kind in Contradiction if found[kind])


def _any_later(spells: Iterable[Spell], limit: datetime) -> bool:
    return any(_later(spell.stopped_at or spell.started_at, limit) for spell in spells)


def _later(one: datetime, other: datetime) -> bool:
    """Compared in UTC: two wall times of one zone are compared by their hands, through a change of clocks too."""
    return one.astimezone(UTC) > other.astimezone(UTC)
