"""Which kinds of notices ask for a word that they were seen, and which may share a mail."""

from __future__ import annotations

from enum import StrEnum

from staff.rules.roles import Role

DIGEST = "digest"
UNANSWERED = "unanswered"
UNDELIVERED = "undelivered"
LEFT_WITHOUT = "left-without"

# Of the plan of a case.
OF_A_CASE = frozenset({"visit-late", "decision-late", "titre-due"})
OF_A_DOSE = frozenset({"days-before", "day-before", "day-of", "day-after", "overdue"})
OF_A_RECORD = frozenset(
    {
        f"{what}-{stage}"
        for what in ("dose", "recheck", "briefing", "letter", "dates")
        for stage in ("soon", "today")
    }
    | {"dates-late"}
)
# Of an outing nobody was told of in time; the officers of a large campaign get many at one hour.
OF_AN_OUTING = frozenset({"community-due", "community-late"})
PLANNED = OF_A_CASE | OF_A_DOSE | OF_A_RECORD | OF_AN_OUTING
ASKING = frozenset({"day-of", "day-after", "overdue", "new-report", UNANSWERED}) | OF_A_CASE
# What an animal's outcome asks of the clinician: every kind whose name begins so.
ANIMAL = "animal-"
# More mails than this to one address at one hour go in one. Common practice, no source.
MOST_ALONE = 3


class Level(StrEnum):
    """Whose turn it is to look: each is followed by the next. The further contact is told with every officer."""

    MEMBER = Role.MEMBER.value
    LIAISON = Role.LIAISON.value
    OFFICER = Role.OFFICER.value
    FURTHER = "further"


def asks(kind: str) -> bool:
    """Whether a notice of this kind carries the link by which its reader says that it was seen."""
    return kind in ASKING or kind.startswith(ANIMAL)


def level_of(audience: str) -> Level:
    """Where a notice to `audience` stands in the chain; what goes to several at once stands as the officers' does."""
    return Level(audience) if audience in Level.__members__.values() else Level.OFFICER


def levels_after(level: Level) -> tuple[Level, ...]:
    """Whose turn it is when nobody of `level` has answered, one after the other; the last one ends the chain."""
    chain = tuple(Level)
    return chain[chain.index(level) + 1 :]
