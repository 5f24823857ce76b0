"""The rows of this shelf, handed on."""

from safety.models.animal.animal import AnimalCheck, AnimalLink, AnimalOutcome, Observation, Outcome, Seen

__all__ = [
    "AnimalCheck",
    "AnimalLink",
    "AnimalOutcome",
    "Observation",
    "Outcome",
    "Seen",
]
