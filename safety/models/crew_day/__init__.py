"""The rows of this shelf, handed on."""

from safety.models.crew_day.outing_day import CrewReturn, Departure, DeparturePerson, Missing, ReturnTally

__all__ = [
    "CrewReturn",
    "Departure",
    "DeparturePerson",
    "Missing",
    "ReturnTally",
]
