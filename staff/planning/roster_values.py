"""What a proposed roster is made of: crews with open places, people who could fill them, and who fills which."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class OpenCrew:
    """A crew on its day and how many of each crew role it still lacks. `lane` is alike for the same crew on other days."""

    key: int
    day: date
    lane: str
    lacks: Mapping[str, int]


@dataclass(frozen=True)
class Candidate:
    """Somebody of the team. `free`: dates on which the person is clear, asked for no day off and is on no outing.

    `out`: dates on which the person is on an outing already, also shortly before and after the days planned.
    """

    key: int
    roles: frozenset[str]
    free: frozenset[date]
    out: frozenset[date] = frozenset()
    rather_not: frozenset[date] = frozenset()
    gladly: frozenset[date] = frozenset()


@dataclass(frozen=True, order=True)
class Filled:
    """One place of a crew given to a person."""

    day: date
    crew: int
    role: str
    person: int


@dataclass(frozen=True)
class ProposedRoster:
    """`open`: what each crew (by key) still lacks, complete ones left out. `proven`: nothing better exists."""

    filled: tuple[Filled, ...]
    open: Mapping[int, Mapping[str, int]] = field(default_factory=dict)
    proven: bool = True
