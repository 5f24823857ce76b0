"""Private links: a selector that finds the row and a 128-bit secret of which the digest alone is kept.

Whoever holds the address holds the right, so a link is told once, never logged, and compared under a counter.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from django.db.models import QuerySet
from django.utils.crypto import constant_time_compare
from django.views.decorators.debug import sensitive_variables

from safety.models import AnimalLink, CalendarFeed
from safety.services.case.references import ALPHABET, random_code
from staff.services.site.guesses import guess_forgive, guess_key, guess_take

SELECTOR_LENGTH = 8
# 26 characters of 31 are 128 bits: nobody guesses them, counter or not.
SECRET_LENGTH = 26
_CODE = re.compile(f"([{ALPHABET}]{{{SELECTOR_LENGTH}}})-?([{ALPHABET}]{{{SECRET_LENGTH}}})")

Link = TypeVar("Link", AnimalLink, CalendarFeed)


@dataclass(frozen=True)
class NewCode:
    """A code nobody can read again once it is shown."""

    selector: str
    secret: str = field(repr=False)

    @property
    def text(self) -> str:
        return f"{self.selector}-{self.secret}"

    @property
    def digest(self) -> str:
        return _digest(self.secret)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def new_code() -> NewCode:
    return NewCode(random_code(SELECTOR_LENGTH), random_code(SECRET_LENGTH))


@sensitive_variables()
def live_link(rows: QuerySet[Link], code: str, *, kind: str, now: datetime) -> Link | None:
    """The row of `rows` that `code` opens; None whatever the cause: unknown, wrong, ended, or too many tries.

    A try is taken before the secret is compared.
    """
    parts = _CODE.fullmatch(code.upper()[:80])
    row = rows.filter(selector=parts[1], ended_at__isnull=True).first() if parts else None
    if parts is None or row is None:
        return None
    key = guess_key(kind, row.selector)
    if not guess_take(key=key, now=now) or not constant_time_compare(_digest(parts[2]), row.secret_hash):
        return None
    guess_forgive(key=key)
    return row
