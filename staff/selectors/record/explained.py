"""Clearance explained: the chain from one person's record to the answer for one date, and what would change it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from staff.models import Person
from staff.rules.record.clearance import Clearance, Condition
from staff.rules.record.intervals import covers
from staff.rules.record.missing import Action, ActionKind
from staff.rules.regimen.values import Regimen
from staff.selectors.record.clear_from import ClearFrom, clear_from
from staff.selectors.record.outlook_words import action_words, condition_words
from staff.selectors.record.readiness import Readiness, clear_dates_of
from staff.selectors.record.record_sheet import DoseLine, dose_lines, series_regimen
from staff.selectors.record.records import RegimenBook
from staff.words import reason_words


@dataclass(frozen=True)
class Link:
    """One thing the site asks for, whether the date meets it, from when until when, and why not.

    A link that isn't `binding` only advises.
    """

    name: str
    title: str
    met: bool
    binding: bool
    since: date | None
    until: date | None
    codes: tuple[str, ...]
    words: tuple[str, ...]


@dataclass(frozen=True)
class Step:
    """One thing that would help, in words; `decision` when no date can be given because a person decides."""

    kind: str
    number: int | None
    earliest_on: date | None
    last_on: date | None
    words: str

    @property
    def decision(self) -> bool:
        return self.kind == ActionKind.DECISION


@dataclass(frozen=True)
class Explained:
    """`stored` is whether a stored clearance is in force on the date: only when it and the record agree is one clear."""

    person: Person
    on: date
    clear: bool
    stored: bool
    readiness: Readiness
    regimen: Regimen | None
    doses: tuple[DoseLine, ...]
    links: tuple[Link, ...]
    clear_from: ClearFrom
    steps: tuple[Step, ...]

    @property
    def clear_on(self) -> date | None:
        """The same date as on the board of that day (see staff.selectors.record.clear_from)."""
        return self.clear_from.on


def clearance_explained(person: Person, *, on: date, today: date) -> Explained:
    """Why `person` is or isn't clear on `on`, and from when; nothing can be done before `today`."""
    dates = clear_dates_of(person)
    row, book = dates.on(on), RegimenBook.for_sites([person.site])
    ahead = clear_from([row], today)[0]
    return Explained(
        person=row.person,
        on=on,
        clear=row.clear,
        stored=dates.stored_on(on) is not None,
        readiness=row,
        regimen=series_regimen(row, book),
        doses=dose_lines(row.person, book),
        links=_links(dates.judged, on),
        clear_from=ahead,
        steps=tuple(_step(action) for action in ahead.way.actions),
    )


def _links(judged: Clearance, on: date) -> tuple[Link, ...]:
    binding = [_link(condition, on, binding=True) for condition in judged.conditions]
    return (*binding, *(_link(condition, on, binding=False) for condition in judged.advice))


def _link(condition: Condition, on: date, *, binding: bool) -> Link:
    span = next((one for one in condition.intervals if covers([one], on)), None)
    reasons = condition.reasons_on(on)
    return Link(
        name=condition.name,
        title=condition_words(condition.name),
        met=span is not None,
        binding=binding,
        since=span.starts_on if span and span.starts_on > date.min else None,
        until=span.ends_on if span else None,
        codes=tuple(reason.code.value for reason in reasons),
        words=tuple(reason_words(reason) for reason in reasons),
    )


def _step(action: Action) -> Step:
    return Step(
        kind=action.kind.value,
        number=action.number,
        earliest_on=action.earliest_on,
        last_on=action.last_on,
        words=action_words(action),
    )
