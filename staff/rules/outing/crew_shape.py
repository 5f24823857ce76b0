"""Who a crew needs by how it works, and which of them are missing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from types import MappingProxyType

Shape = Mapping[str, int]

# Four at a fixed post for 100 to 1,000 dogs a day (Canine Rabies Blueprint 5.2.1); about seven catch on the street (a
# peer-reviewed field programme, read in a secondary copy). Who does what, and three from house to house: common practice,
# no source.
SHIPPED: Mapping[str, Shape] = MappingProxyType(
    {
        "fixed-post": {"vaccinator": 1, "recorder": 1, "catcher": 1, "lead": 1},
        "house-to-house": {"catcher": 1, "vaccinator": 1, "recorder": 1},
        "street-catching": {"catcher": 3, "vaccinator": 1, "recorder": 1, "driver": 1, "lead": 1},
    }
)


def shape_of(method: str, site_rows: Iterable[tuple[str, str, int]]) -> Shape:
    """People needed by crew role; `site_rows` are (method, role, needed), which replace the shipped shape of a method."""
    own = {role: needed for row_method, role, needed in site_rows if row_method == method}
    return {role: needed for role, needed in (own or SHIPPED[method]).items() if needed}


def missing_from(shape: Shape, roles: Iterable[str]) -> dict[str, int]:
    """How many of each needed role a crew with `roles` still lacks; empty when it is complete."""
    there = Counter(roles)
    return {role: needed - there[role] for role, needed in shape.items() if needed > there[role]}
