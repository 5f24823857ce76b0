"""The plain values that the immunisation rules speak in: regimens, doses, intervals of dates."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cached_property

from staff.ground.dates import month_end, month_start
from staff.ground.purposes import Purpose


class RuleError(ValueError):
    """A question that a rule cannot answer, tied to the field that makes it so.

    `message` is plain English for logs and developers; pages find their translated sentence by `code`.
    """

    def __init__(self, field: str, message: str, code: str = "invalid") -> None:
        super().__init__(message)
        self.field = field
        self.message = message
        self.code = code


class Route(StrEnum):
    IM = "IM"
    ID = "ID"


class LateRule(StrEnum):
    """What a late dose does to the doses that remain; authorities disagree, so each site chooses."""

    KEEP_GAPS = "keep-gaps"
    KEEP_CALENDAR = "keep-calendar"
    RESTART = "restart"


@dataclass(frozen=True)
class Step:
    """One visit of a regimen. `day` and `latest_day` count from day 0, `smallest_gap` from the step before."""

    number: int
    day: int
    latest_day: int
    smallest_gap: int
    injections: int = 1
    later: bool = False

    @property
    def window_days(self) -> int:
        """Days by which the visit may fall after its due date and still be on time."""
        return self.latest_day - self.day

    @property
    def gap(self) -> int:
        """The smallest gap that is really asked: two visits on one date are always one visit."""
        return self.smallest_gap if self.number == 1 else max(1, self.smallest_gap)


@dataclass(frozen=True)
class Regimen:
    """A dated list of visits. Raises ValueError, naming the step, when the list contradicts itself."""

    code: str
    version: int
    purpose: Purpose
    routes: frozenset[Route]
    steps: tuple[Step, ...]

    def __post_init__(self) -> None:
        if not self.steps:
            raise ValueError(f"regimen {self.code}: no steps")
        if not self.routes:
            raise ValueError(f"regimen {self.code}: no route")
        for position, step in enumerate(self.steps):
            fault = _step_fault(step, position + 1, self.steps[position - 1] if position else None)
            if fault:
                raise ValueError(f"regimen {self.code}: step {step.number} {fault}")

    @cached_property
    def primary_steps(self) -> tuple[Step, ...]:
        """The steps that make the series complete; later ones only keep it so."""
        return tuple(step for step in self.steps if not step.later)

    @cached_property
    def later_steps(self) -> tuple[Step, ...]:
        return tuple(step for step in self.steps if step.later)

    def planned_gap(self, index: int) -> int:
        """Days between the step at `index` (from 0) and the one before it, as the regimen plans them."""
        return 0 if index == 0 else self.steps[index].day - self.steps[index - 1].day


def _step_fault(step: Step, number: int, before: Step | None) -> str | None:
    if step.number != number:
        return f"should be numbered {number}"
    if step.latest_day < step.day:
        return "has its latest day before its day"
    if step.smallest_gap < 0:
        return "has a negative smallest gap"
    if step.injections < 1:
        return "has no injection"
    if before is None:
        if step.day != 0 or step.smallest_gap != 0:
            return "must be day 0 with no gap before it"
        return "cannot be a later dose: nothing is complete yet" if step.later else None
    if step.day <= before.day:
        return "is not after the step before it"
    if step.smallest_gap > step.day - before.day:
        return "has a smallest gap longer than the planned one"
    if before.later and not step.later:
        return "follows a later dose and is not one itself"
    return None


@dataclass(frozen=True)
class Interval:
    """Dates from `starts_on` to `ends_on`, both included; no end means open."""

    starts_on: date
    ends_on: date | None

    def __post_init__(self) -> None:
        if self.ends_on is not None and self.ends_on < self.starts_on:
            raise ValueError(f"interval ends on {self.ends_on}, before it starts on {self.starts_on}")


@dataclass(frozen=True)
class DoseFact:
    """A dose as the record has it. None means that the record doesn't say.

    `recorded_on` is the date of entry: a dose dated after it had not been given when it was written down.
    With `month_only` the day is not known: `given_on` is then the month's last day, from which the dose counts,
    and it may have been given on any day since `earliest_on`. Raises ValueError for another day of the month.
    """

    given_on: date
    route: Route | None = None
    purpose: Purpose = Purpose.PRE_EXPOSURE
    injections: int | None = None
    voided: bool = False
    recorded_on: date | None = None
    verified: bool = True
    regimen_code: str | None = None
    course_key: str | None = None
    id: int | None = None
    month_only: bool = False

    def __post_init__(self) -> None:
        if self.month_only and self.given_on != month_end(self.given_on):
            raise ValueError(
                f"a dose of which only the month is known is dated its last day, not {self.given_on}"
            )

    @property
    def earliest_on(self) -> date:
        """The first day on which the dose may have been given."""
        return month_start(self.given_on) if self.month_only else self.given_on

    @property
    def written_ahead(self) -> bool:
        """True when the dose is dated after the day it was entered, so nobody can have seen it given."""
        return self.recorded_on is not None and self.given_on > self.recorded_on

    @property
    def stands(self) -> bool:
        """True when nothing about the record itself stops the dose from counting, whatever the regimen."""
        return self.verified and not self.voided and not self.written_ahead
