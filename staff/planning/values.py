"""What is planned: the doses each person lacks, and the visits that give them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class MissingDose:
    """`gap`: days at least after the dose before it, as the regimen asks."""

    number: int
    gap: int
    injections: int = 1


@dataclass(frozen=True)
class Need:
    """Doses one person lacks: the first not before `first_from`, the last not after `last_on`."""

    key: int
    doses: tuple[MissingDose, ...]
    first_from: date
    last_on: date


@dataclass(frozen=True)
class Visit:
    key: int
    number: int
    on: date
    injections: int


def vials_needed(injections: int, injections_per_vial: int) -> int:
    """Whole vials for so many injections at one session; what is left in the last is thrown away."""
    return -(-injections // injections_per_vial)


def earliest_dates(doses: Sequence[MissingDose], days: Sequence[date]) -> tuple[date, ...] | None:
    """The first of `days` (in order) for each dose that keeps the gaps; None when they don't suffice."""
    dates: list[date] = []
    for dose in doses:
        fits = (day for day in days if not dates or (day - dates[-1]).days >= max(1, dose.gap))
        day = next(fits, None)
        if day is None:
            return None
        dates.append(day)
    return tuple(dates)
