"""Random letters and figures that stay themselves when read out over a bad line."""

from __future__ import annotations

import secrets

# No 0/O, 1/I/L.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


def random_code(length: int) -> str:
    return "".join(secrets.choice(ALPHABET) for _place in range(length))


def new_reference() -> str:
    """Six characters that say nothing about anybody."""
    return random_code(6)
