"""What moved between two plans of one course."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Planned:
    """One dose of a plan: when it is due, and when it was given."""

    number: int
    due_on: date
    given_on: date | None


@dataclass(frozen=True)
class Move:
    """One dose whose date or gift differs; None before: it was not planned; None after: it no longer is."""

    number: int
    before: Planned | None
    after: Planned | None


def plan_moves(*, before: Iterable[Planned], after: Iterable[Planned]) -> tuple[Move, ...]:
    """Every dose that appeared, moved, vanished, or became given or ungiven, in the order of the doses."""
    old = {dose.number: dose for dose in before}
    new = {dose.number: dose for dose in after}
    return tuple(
        Move(number, old.get(number), new.get(number))
        for number in sorted(old.keys() | new.keys())
        if old.get(number) != new.get(number)
    )
