"""Examples of the animal's doors."""

from __future__ import annotations

from typing import Any

OBSERVATION_ASKED: dict[str, Any] = {"described": "brown dog, white paw, red collar", "where": "by the well"}
OBSERVATION: dict[str, Any] = {
    "id": 3,
    "incident": 4,
    "described": "brown dog, white paw, red collar",
    "first_on": "2026-03-02",
    "last_on": "2026-03-12",
}

CHECK_ASKED: dict[str, Any] = {"day": "2026-03-02", "seen": "well"}
CHECK: dict[str, Any] = {"id": 9, "observation": 3, "day": "2026-03-02", "seen": "well", "note": ""}
