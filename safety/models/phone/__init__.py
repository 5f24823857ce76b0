"""The rows of this shelf, handed on."""

from safety.models.phone.phone import HandledTally, PhoneLink, PhoneMessage, SealKey

__all__ = [
    "HandledTally",
    "PhoneLink",
    "PhoneMessage",
    "SealKey",
]
