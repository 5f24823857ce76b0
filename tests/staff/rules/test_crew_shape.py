"""Who a crew needs, and who it lacks."""

from __future__ import annotations

import pytest

from staff.models import CrewRole, Method
from staff.rules.outing.crew_shape import SHIPPED, missing_from, shape_of


@pytest.mark.parametrize(
    ("method", "people"),
    # Canine Rabies Blueprint 5.2.1: 4 at a fixed post; methods of a peer-reviewed field programme: about 7 on the street.
    [("fixed-post", 4), ("street-catching", 7)],
)
def test_shipped_shapes_have_the_published_size(method: str, people: int) -> None:
    assert sum(SHIPPED[method].values()) == people


def test_every_method_has_a_shape_of_known_roles() -> None:
    assert set(SHIPPED) == set(Method.values)
    assert {role for shape in SHIPPED.values() for role in shape} <= set(CrewRole.values)


def test_a_sites_own_rows_replace_the_shape_of_that_method_alone() -> None:
    rows = [("fixed-post", "vaccinator", 2), ("fixed-post", "driver", 0)]
    assert shape_of("fixed-post", rows) == {"vaccinator": 2}
    assert shape_of("house-to-house", rows) == SHIPPED["house-to-house"]


def test_missing_counts_each_role() -> None:
    shape = SHIPPED["street-catching"]
    assert missing_from(shape, ["catcher", "lead", "recorder"]) == {
        "catcher": 2,
        "vaccinator": 1,
        "driver": 1,
    }
    assert missing_from(shape, [*["catcher"] * 4, "vaccinator", "recorder", "driver", "lead"]) == {}
