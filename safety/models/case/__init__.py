"""The rows of this shelf, handed on."""

from safety.models.case.case import Decision, Immunoglobulin, Referral, Visit
from safety.models.case.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.models.case.incident import Incident, WashSpell, Wound

__all__ = [
    "Animal",
    "AnimalSign",
    "Answer",
    "BodySite",
    "Cause",
    "ContactKind",
    "Decision",
    "Immunoglobulin",
    "Incident",
    "Kind",
    "Referral",
    "Task",
    "Visit",
    "WashSpell",
    "Wound",
]
