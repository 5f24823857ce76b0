"""How the follow-up went: what became of each dose that was due in a period."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from dateutil.relativedelta import relativedelta

from safety.rules.course.dose_due import days_late, is_overdue


class Fate(StrEnum):
    """What became of a dose that was due. Every dose has exactly one."""

    ON_TIME = "on-time"
    LATE = "late"
    CHASED = "chased"
    CLOSED = "closed"
    TO_COME = "to-come"


@dataclass(frozen=True)
class DueDose:
    """A planned dose: due, at the latest, given if it was; `ended` when its course has ended."""

    due_on: date
    latest_on: date
    given_on: date | None
    ended: bool = False

    @property
    def days_late(self) -> int:
        """Whole days past the last day of its window on which it was given; 0 when in time or not given."""
        if self.given_on is None:
            return 0
        return days_late(due_on=self.due_on, latest_on=self.latest_on, on=self.given_on)


# Days late, first and last of each band; the last one is open. Common practice, no source.
BANDS: tuple[tuple[int, int | None], ...] = ((1, 1), (2, 2), (3, 3), (4, 7), (8, 14), (15, None))


@dataclass(frozen=True)
class Band:
    """How many doses were given from `first` to `last` days late; no `last` means any more."""

    first: int
    last: int | None
    doses: int


@dataclass(frozen=True)
class Month:
    """Doses due in the month that begins on `first`."""

    first: date
    due: int
    on_time: int


@dataclass(frozen=True)
class DoseFigures:
    """`fates` names every fate, and its numbers add up to `due`; those of `late` add up to its late ones."""

    due: int
    fates: dict[Fate, int]
    late: tuple[Band, ...]
    months: tuple[Month, ...]


def fate_of(dose: DueDose, today: date) -> Fate:
    """A dose that isn't recorded is chased from the day after its window until its course has ended."""
    if dose.given_on:
        return Fate.LATE if dose.days_late else Fate.ON_TIME
    if dose.ended:
        return Fate.CLOSED
    late = is_overdue(due_on=dose.due_on, latest_on=dose.latest_on, today=today)
    return Fate.CHASED if late else Fate.TO_COME


def dose_figures(doses: Iterable[DueDose], *, today: date) -> DoseFigures:
    """Count the doses by fate, the late ones by days and all by the month in which they were due."""
    fated = [(dose, fate_of(dose, today)) for dose in doses]
    counts = Counter(fate for _dose, fate in fated)
    days = [dose.days_late for dose, fate in fated if fate is Fate.LATE]
    due = Counter(dose.due_on.replace(day=1) for dose, _fate in fated)
    in_time = Counter(dose.due_on.replace(day=1) for dose, fate in fated if fate is Fate.ON_TIME)
    return DoseFigures(
        due=len(fated),
        fates={fate: counts[fate] for fate in Fate},
        late=tuple(
            Band(first, last, sum(first <= n and (last is None or n <= last) for n in days))
            for first, last in BANDS
        ),
        months=tuple(Month(month, due[month], in_time[month]) for month in sorted(due)),
    )


def twelve_months(today: date) -> tuple[date, date]:
    """The twelve months that end today: from the day after the same date a year ago."""
    return today - relativedelta(years=1) + timedelta(days=1), today
