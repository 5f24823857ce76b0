"""The one place where a service begins anew because its transaction had to give way to another."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from contextvars import ContextVar
from functools import wraps
from typing import ParamSpec, TypeVar

from django.db import OperationalError, connection
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables

from staff.ground.errors import Conflict

P = ParamSpec("P")
R = TypeVar("R")

# Waits between tries, in seconds, and how long a caller is kept at most before the refusal.
PAUSES = (0.05, 0.2, 0.5)
PATIENCE_SECONDS = 10.0

# PostgreSQL, appendix A: deadlock detected, serialization failure, lock not available.
_GIVEN_WAY = {"40P01", "40001", "55P03"}
# SQLite result codes 5 (busy) and 6 (locked); extended codes carry them in the low byte.
_BUSY = {5, 6}


class Crossed(Conflict):
    """Two changes crossed and this one was undone whole; trying again is safe."""

    code = "changes-crossed"

    def __init__(self) -> None:
        super().__init__(
            _("Somebody changed the same records at the same moment. Nothing was saved; try again.")
        )


def gave_way(error: OperationalError) -> bool:
    """Whether the database undid the transaction in favour of another one; a broken connection is no such case."""
    cause = error.__cause__
    return (
        getattr(cause, "sqlstate", None) in _GIVEN_WAY
        or getattr(cause, "sqlite_errorcode", 0) & 0xFF in _BUSY
    )


# True while a door tries the whole of what it does: the services inside leave the trying to it.
_door_tries: ContextVar[bool] = ContextVar("door_tries", default=False)


# What a service is given may be a secret (a card's code), so no report of an error shows the variables on its way.
@sensitive_variables()
def at_the_door(service: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
    """Run `service` as `retried` would; whatever is `retried` inside it runs once at each try."""
    if _door_tries.get():
        return service(*args, **kwargs)
    token = _door_tries.set(True)
    try:
        return _tried_again(service, *args, **kwargs)
    finally:
        _door_tries.reset(token)


def retried(service: Callable[P, R]) -> Callable[P, R]:
    """Run `service` (which opens its own transaction) again after it gave way; raises `Crossed` when that doesn't help.

    For what tasks and commands call: behind a page or a door of the API it is the door that tries again.
    """

    @wraps(service)
    @sensitive_variables()
    def call(*args: P.args, **kwargs: P.kwargs) -> R:
        if _door_tries.get():
            return service(*args, **kwargs)
        return _tried_again(service, *args, **kwargs)

    return call


@sensitive_variables()
def _tried_again(service: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
    """Inside a caller's transaction there is nothing to repeat here: the whole of it is undone, and it is the
    outermost service that begins anew. SQLite has waited for its lock already, so it is tried again only
    while the caller's patience lasts."""
    if connection.in_atomic_block:
        return service(*args, **kwargs)
    started = time.monotonic()
    for pause in (*PAUSES, None):
        try:
            return service(*args, **kwargs)
        except Crossed:
            if pause is None:
                raise
        except OperationalError as error:
            if not gave_way(error):
                raise
            if pause is None or time.monotonic() - started > PATIENCE_SECONDS:
                raise Crossed from error
        time.sleep(pause * random.uniform(0.5, 1.5))
    raise Crossed
