"""Whose turn it is when nobody has answered a notice."""

from __future__ import annotations

from enum import StrEnum

from staff.ground.roles import Role


class Level(StrEnum):
    """Whose turn it is to look: each is followed by the next. The further contact is told with every officer."""

    MEMBER = Role.MEMBER.value
    LIAISON = Role.LIAISON.value
    OFFICER = Role.OFFICER.value
    FURTHER = "further"


# What goes to several at once stands as the officers' does.
LEVELS = {level.value: level for level in Level} | dict.fromkeys(
    ("report", "roster", "account"), Level.OFFICER
)


def level_of(audience: str) -> Level:
    """Where a notice to `audience` stands in the chain."""
    return LEVELS[audience]


def levels_after(level: Level) -> tuple[Level, ...]:
    """Whose turn it is when nobody of `level` has answered, one after the other; the last one ends the chain."""
    chain = tuple(Level)
    return chain[chain.index(level) + 1 :]
