"""Distances over the globe against published worked examples: a sphere is within 0.6 % of the ellipsoid."""

from __future__ import annotations

import pytest

from safety.rules.clinic.clinic_choice import Position, metres_between


def degrees(whole: int, minutes: int, seconds: float) -> float:
    return (abs(whole) + minutes / 60 + seconds / 3600) * (-1 if whole < 0 else 1)


# ICSM, Geocentric Datum of Australia technical manual: Flinders Peak to Buninyong, 54,972.271 m by Vincenty's
# formulae on GRS 80, which differs from WGS 84 by far less than the tenth of a millimetre (figures from memory).
FLINDERS_PEAK = Position(degrees(-37, 57, 3.72030), degrees(144, 25, 29.52440))
BUNINYONG = Position(degrees(-37, 39, 10.15610), degrees(143, 55, 35.38390))


def test_the_survey_manuals_worked_example() -> None:
    assert metres_between(FLINDERS_PEAK, BUNINYONG) == pytest.approx(54_972.271, rel=0.006)
    assert metres_between(BUNINYONG, FLINDERS_PEAK) == pytest.approx(54_972.271, rel=0.006)


def test_the_example_of_the_geodesics_documentation() -> None:
    # Wellington to Salamanca, nearly antipodal: 19959679.267 m (Karney, documentation of the geodesic routines).
    found = metres_between(Position(-41.32, 174.81), Position(40.96, -5.50))
    assert found == pytest.approx(19_959_679.267, rel=0.006)


def test_a_quarter_of_a_meridian_is_the_metres_first_definition_give_or_take() -> None:
    # WGS 84: 10,001,965.729 m from equator to pole (NIMA TR8350.2).
    assert metres_between(Position(0, 20), Position(90, 20)) == pytest.approx(10_001_965.729, rel=0.006)


def test_nowhere_to_go_is_no_distance_and_the_date_line_is_no_wall() -> None:
    assert metres_between(BUNINYONG, BUNINYONG) == 0
    across = metres_between(Position(-17, 179.95), Position(-17, -179.95))
    assert across == pytest.approx(metres_between(Position(-17, 10), Position(-17, 10.1)), abs=1)
