"""The rows of this shelf, handed on."""

from staff.models.regimen.regimen import (
    Purpose,
    Regimen,
    RegimenApproval,
    RegimenEdit,
    RegimenMove,
    RegimenStep,
    Route,
)

__all__ = [
    "Purpose",
    "Regimen",
    "RegimenApproval",
    "RegimenEdit",
    "RegimenMove",
    "RegimenStep",
    "Route",
]
