"""The rows of this shelf, handed on."""

from staff.models.importing.importing import DateFormatChoice, ImportDraft

__all__ = [
    "DateFormatChoice",
    "ImportDraft",
]
