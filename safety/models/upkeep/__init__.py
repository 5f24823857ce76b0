"""The rows of this shelf, handed on."""

from safety.models.upkeep.heartbeat import Heartbeat

__all__ = [
    "Heartbeat",
]
