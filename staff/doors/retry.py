"""The retry at the door: the acting part of a request begins anew after the database gave way to somebody else.

Too often, it ends as 409 with the code changes-crossed, which the phone's scripts send again.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from django.db import OperationalError
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables

from staff.ground.errors import Conflict, Refused
from staff.ground.transactions import Crossed, at_the_door, gave_way

P = ParamSpec("P")
R = TypeVar("R")


class Unsure(Conflict):
    """The database gave way outside the acting part, so nobody can say here whether that was kept."""

    code = "changes-crossed"

    def __init__(self) -> None:
        super().__init__(
            _(
                "Somebody changed the same records at the same moment. "
                "Look whether what you sent is there before you send it again."
            )
        )


@sensitive_variables()
def acting(service: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
    """Run what changes something, again when the database gave way; raises `Crossed` when that doesn't help.

    It stands once around a request's one service, so nothing that was committed runs again, and a service that
    is retried for its tasks leaves the trying to this door.
    """
    return at_the_door(service, *args, **kwargs)


def refusal_of(error: Exception, *, unchanged: bool) -> Refused | None:
    """What to answer for an error that reached the door; None where it is no refusal but a fault of ours.

    `unchanged`: it is certain that nothing was kept, so sending it again is safe.
    """
    if isinstance(error, Refused):
        return error
    if isinstance(error, OperationalError) and gave_way(error):
        return Crossed() if unchanged else Unsure()
    return None
