"""Refusals of this package; the shapes are those of staff."""

from __future__ import annotations

from staff.ground.errors import Conflict, Invalid, KeyReused, NotAllowed, Refused, TooMany

__all__ = [
    "Conflict",
    "Invalid",
    "KeyReused",
    "NotAllowed",
    "PermanentFailure",
    "Refused",
    "TemporaryFailure",
    "TooMany",
    "Unconfirmed",
]


class Unconfirmed(Invalid):
    """Odd by the record or the plan, yet possible: kept once somebody confirms that the clinic's paper says so."""

    code = "to-confirm"


class TemporaryFailure(Exception):
    """The mail did not leave this time; try again later."""


class PermanentFailure(Exception):
    """The mail server refused this mail or this address for good."""


class FenceDown(Exception):
    """The claim was lost while the mail was being handed over; it was not sent by us."""
