"""Tries at a secret, counted by one conditional UPDATE each, so that guesses in parallel count like guesses in a row."""

from __future__ import annotations

import hashlib
import math
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Case, F, Q, Value, When

from staff.models import GuessCounter

TRIES = 5
WINDOW = timedelta(minutes=15)
# A counter nobody touched for so long says nothing any more.
KEPT = timedelta(days=1)


@dataclass(frozen=True)
class Limit:
    """At most `tries` within `window` of the first of them."""

    tries: int = TRIES
    window: timedelta = WINDOW


SECRETS = Limit()


def guess_key(kind: str, *parts: str) -> str:
    """The counter's key: a digest, for a name field sometimes gets the password."""
    folded = "\0".join(unicodedata.normalize("NFKC", part).casefold() for part in parts)
    return f"{kind}:{hashlib.sha256(folded.encode()).hexdigest()[:40]}"


def guess_take(*, key: str, now: datetime, limit: Limit = SECRETS) -> bool:
    """Take one try before the secret is compared; False when there is none left in this window."""
    GuessCounter.objects.bulk_create(
        [GuessCounter(key=key, window_started_at=now, tries=0)], ignore_conflicts=True
    )
    over = Q(window_started_at__lte=now - limit.window)
    taken = (
        GuessCounter.objects.filter(key=key)
        .filter(over | Q(tries__lt=limit.tries))
        .update(
            tries=Case(When(over, then=Value(1)), default=F("tries") + 1),
            window_started_at=Case(When(over, then=Value(now)), default=F("window_started_at")),
        )
    )
    return taken == 1


def guess_forgive(*, key: str) -> None:
    """The secret was right: the tries before it were slips of the pen."""
    GuessCounter.objects.filter(key=key).update(tries=0)


def seconds_left(*, key: str, now: datetime, limit: Limit = SECRETS) -> int:
    """Whole seconds until the next try, at least 1."""
    started = GuessCounter.objects.filter(key=key).values_list("window_started_at", flat=True).first()
    left = (started or now) + limit.window - now
    return max(1, math.ceil(left.total_seconds()))


def guesses_sweep(*, now: datetime) -> int:
    """Take counters away that say nothing any more; returns how many."""
    gone, _rows = GuessCounter.objects.filter(window_started_at__lt=now - KEPT).delete()
    return gone
