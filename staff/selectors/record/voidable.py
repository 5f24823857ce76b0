"""Finding what may be voided, where an address names no row."""

from __future__ import annotations

from typing import TypeVar

from django.db.models import F, QuerySet

from staff.models import Voidable

Row = TypeVar("Row", bound=Voidable)


def standing_or_last(rows: QuerySet[Row]) -> Row | None:
    """Of `everything` of one thing the one that stands, else the last that was voided: who voids that again is told so."""
    return rows.order_by(F("voided_at").desc(nulls_first=True), "-pk").first()
