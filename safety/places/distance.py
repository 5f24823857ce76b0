"""How far it is from one place to another, over the ellipsoid."""

from __future__ import annotations

from geographiclib.geodesic import Geodesic

from safety.rules.clinic_choice import Position


def metres_between(here: Position, there: Position) -> float:
    """The shortest way over WGS 84, in metres; roads are longer."""
    line = Geodesic.WGS84.Inverse(
        here.latitude, here.longitude, there.latitude, there.longitude, Geodesic.DISTANCE
    )
    return float(line["s12"])
