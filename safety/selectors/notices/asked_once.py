"""What every course of a site asks anew, read once for the length of one sweep."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

R = TypeVar("R")

_KNOWN: ContextVar[dict[Hashable, Any] | None] = ContextVar("known", default=None)


@contextmanager
def asked_once() -> Iterator[None]:
    """Within this, `once` remembers: who holds a role and which plan a site has may then be seconds old.

    For sweeps alone: the next one asks anew, and whether a notice is still true is asked outside of it.
    """
    token = _KNOWN.set({})
    try:
        yield
    finally:
        _KNOWN.reset(token)


def once(question: Hashable, read: Callable[[], R]) -> R:
    """The answer of `read`, remembered under `question` within `asked_once` and nowhere else."""
    known = _KNOWN.get()
    if known is None:
        return read()
    if question not in known:
        known[question] = read()
    answer: R = known[question]
    return answer
