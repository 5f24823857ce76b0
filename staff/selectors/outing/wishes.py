"""What people said of days they can or can't come."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from django.db.models import QuerySet

from staff.models import DayWish


def last_words(wishes: QuerySet[DayWish], span: Sequence[date]) -> dict[int, dict[date, str]]:
    """By person and day of `span` (in order), the kind of the wish said last about it."""
    said: dict[int, dict[date, str]] = defaultdict(dict)
    if span:
        wishes = wishes.filter(first_on__lte=span[-1], last_on__gte=span[0])
    # In the order they were said, so that the later one stands.
    for wish in wishes.order_by("pk"):
        for day in span:
            if wish.first_on <= day <= wish.last_on:
                said[wish.person_id][day] = wish.kind
    return said
