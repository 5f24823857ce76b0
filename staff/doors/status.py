"""The one table from a refusal to its HTTP status: pages and API read it.

A form or a body that can't be taken is 400 everywhere; 422 is kept for a key that came before with another body.
"""

from __future__ import annotations

from collections.abc import Iterator

from staff.ground.errors import (
    Conflict,
    Invalid,
    KeyReused,
    NotAllowed,
    NotCleared,
    NotThere,
    Refused,
    TooMany,
)

STATUS: dict[type[Refused], int] = {
    Invalid: 400,
    NotAllowed: 403,
    NotThere: 404,
    Conflict: 409,
    NotCleared: 409,
    KeyReused: 422,
    TooMany: 429,
}
INVALID = STATUS[Invalid]


def status_of(refused: Refused) -> int:
    """By its own kind or the nearest one above; raises KeyError for a kind the table lacks."""
    return STATUS[_kind_of(type(refused))]


def _kind_of(refusal: type[Refused]) -> type[Refused]:
    return next((kind for kind in refusal.__mro__ if kind in STATUS), refusal)


def kinds(of: type[Refused] = Refused) -> Iterator[type[Refused]]:
    """Every kind of refusal there is by now."""
    for kind in of.__subclasses__():
        yield kind
        yield from kinds(kind)


def check_kinds() -> None:
    """Raises LookupError for a refusal without a status; the addresses call it once every page and door is loaded."""
    missing = sorted(f"{kind.__module__}.{kind.__name__}" for kind in kinds() if _kind_of(kind) not in STATUS)
    if missing:
        raise LookupError(f"staff/doors/status.py lacks a status for {', '.join(missing)}; add a row.")
