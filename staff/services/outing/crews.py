"""Whether a crew has left: set with its leaving, and what may not happen to it and its outing until that is voided."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict
from staff.models import Crew, Outing


def crew_left_set(*, crew: Crew, left_at: datetime | None) -> None:
    """Keep when the crew left, or with None that it hasn't. Call in the transaction of the leaving, with the outing locked.

    The audit entry is the leaving's own.
    """
    Crew.objects.filter(pk=crew.pk).update(left_at=left_at)
    crew.left_at = left_at


def check_roster_open(crew_id: int) -> None:
    """Refuse a change by hand to the roster of a crew that has left. Rules take people off all the same."""
    if crew := _left().filter(pk=crew_id).first():
        words = _(
            "%(crew)s has left; its roster stays as it left. Record who came back, or void the leaving first."
        )
        raise Conflict(words % {"crew": crew.name}, code="crew-left")


def check_may_move(outing: Outing) -> None:
    if crew := _left().filter(outing=outing).first():
        words = _(
            "%(crew)s of this outing has left, so its date stays. If the leaving was recorded in error, void it first."
        )
        raise Conflict(words % {"crew": crew.name}, code="crew-left")


def check_may_cancel(outing: Outing) -> None:
    """A cancelled outing takes no return, and what happened on the way must stay recordable."""
    if crew := _left().filter(outing=outing).first():
        words = _(
            "%(crew)s of this outing has left. Call it back and record its return, with what happened; if the leaving was "
            "recorded in error, void it first. From a crew that stays here, take the people off."
        )
        raise Conflict(words % {"crew": crew.name}, code="crew-left")


def _left() -> QuerySet[Crew]:
    return Crew.objects.filter(left_at__isnull=False)
