"""The rows of this shelf, handed on."""

from safety.models.clinic.clinic import Clinic, Stock

__all__ = [
    "Clinic",
    "Stock",
]
