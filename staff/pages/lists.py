"""Long lists: the first rows, how many more there are, and the way to all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest

# In the address of a page it asks for every row.
ALL = "all"


@dataclass(frozen=True)
class FirstRows:
    """`more`: rows that are left out; the template `_more.html` says so and leads to them."""

    rows: Sequence[Any]
    more: int


def first_rows(request: HttpRequest, rows: QuerySet[Any], number: int) -> FirstRows:
    """The first `number` of `rows`, or all of them where the address asks for that."""
    if ALL in request.GET:
        return FirstRows(list(rows), 0)
    found = list(rows[: number + 1])
    # The count is asked for only where something is left out.
    return FirstRows(found[:number], rows.count() - number if len(found) > number else 0)
