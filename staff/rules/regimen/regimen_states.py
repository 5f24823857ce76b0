"""The states of a version of a regimen and the moves between them; the guards of the database hold the same table."""

from enum import StrEnum


class RegimenState(StrEnum):
    DRAFT = "draft"
    SUBMITTED = "submitted"
    LISTED = "listed"
    RETIRED = "retired"


# A draft is given up by retiring it, a submitted one is sent back or listed by the first approval.
MOVES: frozenset[tuple[RegimenState, RegimenState]] = frozenset(
    {
        (RegimenState.DRAFT, RegimenState.SUBMITTED),
        (RegimenState.DRAFT, RegimenState.RETIRED),
        (RegimenState.SUBMITTED, RegimenState.DRAFT),
        (RegimenState.SUBMITTED, RegimenState.LISTED),
        (RegimenState.LISTED, RegimenState.RETIRED),
    }
)
# For rows that came with the program: nobody drafted them, and no site uses them before an approval.
SAMPLE_MOVES: frozenset[tuple[RegimenState, RegimenState]] = frozenset(
    {(RegimenState.DRAFT, RegimenState.LISTED)}
)


def may_move(old: RegimenState, new: RegimenState, *, sample: bool = False) -> bool:
    """Whether a version may go from `old` to `new`; `sample` says that nobody has drafted it."""
    return (old, new) in MOVES or (sample and (old, new) in SAMPLE_MOVES)
