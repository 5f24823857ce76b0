"""Refusals of this package; the shapes are those of staff."""

from __future__ import annotations

from staff.errors import Conflict, Invalid, KeyReused, NotAllowed, Refused, TooMany

__all__ = [
    "Conflict",
    "Invalid",
    "KeyReused",
    "NotAllowed",
    "PermanentFailure",
    "Refused",
    "TemporaryFailure",
    "TooMany",
]


class TemporaryFailure(Exception):
    """The mail did not leave this time; try again later."""


class PermanentFailure(Exception):
    """The mail server refused this mail or this address for good."""


class FenceDown(Exception):
    """The claim was lost while the mail was being handed over; it was not sent by us."""
