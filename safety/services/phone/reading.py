"""Reading what a phone sent. A field that can't be read becomes "don't know" and is named; the rest stands.

Nobody who is bleeding gets a report back to mend: the message is kept as it came, for who wants to read it whole.
"""

from __future__ import annotations

import hashlib
import json
import math
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from safety.models import PhoneMessage
from staff.ground.limits import shortened

MESSAGE_VERSION = 1
FIRST_YEAR, LAST_YEAR = 1970, 2199
MOST_ITEMS = 50
# A count of dogs is about a day: the only kind of message that is about no incident.
HANDLED = PhoneMessage.COUNT


@dataclass(frozen=True)
class Sent:
    """The opened message. `link` is the sender's code, empty when the phone had none; a count of dogs has no `about`."""

    link: str = field(repr=False)
    kind: str
    about: uuid.UUID | None
    made_at: datetime
    body: Mapping[str, Any] = field(repr=False)


class Said:
    """The fields a JSON object says; `faults` names those that couldn't be read."""

    def __init__(self, data: Any, path: str = "", faults: list[str] | None = None) -> None:
        self.path = path
        self.faults = [] if faults is None else faults
        self.data: Mapping[str, Any] = data if isinstance(data, Mapping) else {}
        if not isinstance(data, Mapping):
            self.faults.append(path or "body")

    def _fault(self, name: str) -> None:
        self.faults.append(f"{self.path}.{name}" if self.path else name)

    def choice(self, name: str, choices: Iterable[str], default: str) -> str:
        value = self.data.get(name)
        if value is None:
            return default
        if not isinstance(value, str) or value not in set(choices):
            self._fault(name)
            return default
        return value

    def choices(self, name: str, choices: Iterable[str]) -> tuple[str, ...]:
        known = set(choices)
        values = self.items(name)
        good = tuple(value for value in values if isinstance(value, str) and value in known)
        if len(good) != len(values):
            self._fault(name)
        return tuple(dict.fromkeys(good))

    def items(self, name: str) -> list[Any]:
        value = self.data.get(name)
        if value is None:
            return []
        if not isinstance(value, list):
            self._fault(name)
            return []
        if len(value) > MOST_ITEMS:
            self._fault(name)
        return value[:MOST_ITEMS]

    def parts(self, name: str) -> list[Said]:
        return [
            Said(item, f"{self.path}.{name}.{index}".lstrip("."), self.faults)
            for index, item in enumerate(self.items(name))
        ]

    def part(self, name: str) -> Said | None:
        """The object under `name`; None when it isn't there."""
        value = self.data.get(name)
        return None if value is None else Said(value, f"{self.path}.{name}".lstrip("."), self.faults)

    def text(self, name: str) -> str:
        """What was written, whole: a report of a bite is never cut, nor refused for its length."""
        value = self.data.get(name)
        if value is None:
            return ""
        if not isinstance(value, str):
            self._fault(name)
            return ""
        # A database can't hold NUL or half of a surrogate pair.
        clean = value.replace("\0", "").encode("utf-8", "ignore").decode()
        if clean != value:
            self._fault(name)
        return clean

    def flag(self, name: str, default: bool) -> bool:
        value = self.data.get(name)
        if value is None:
            return default
        if not isinstance(value, bool):
            self._fault(name)
            return default
        return value

    def whole(self, name: str, highest: int = 2**63 - 1) -> int | None:
        value = self.data.get(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= highest:
            self._fault(name)
            return None
        return value

    def number(self, name: str, lowest: float, highest: float) -> float | None:
        value = self.data.get(name)
        if value is None:
            return None
        good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not good or not lowest <= value <= highest:
            self._fault(name)
            return None
        return float(value)

    def instant(self, name: str) -> datetime | None:
        """An aware instant in UTC; None when it isn't there or can't be read."""
        value = self.data.get(name)
        if value is None:
            return None
        instant = as_instant(value)
        if instant is None:
            self._fault(name)
        return instant

    def day(self, name: str) -> date | None:
        value = self.data.get(name)
        try:
            day = date.fromisoformat(value) if isinstance(value, str) else None
        except ValueError:
            day = None
        if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
            self._fault(name)
            return None
        return day


def as_instant(value: Any) -> datetime | None:
    try:
        instant = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None
    if instant is None or instant.utcoffset() is None or not FIRST_YEAR <= instant.year <= LAST_YEAR:
        return None
    return instant.astimezone(UTC)


def _object(opened: bytes) -> Mapping[str, Any]:
    """The JSON object inside the seal, empty for what is none of this version."""
    try:
        data = json.loads(opened.decode("utf-8"))
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) and data.get("v") == MESSAGE_VERSION else {}


def read_kind(opened: bytes) -> str:
    """The kind a message names, though the rest of it may not be readable."""
    kind = _object(opened).get("kind")
    return shortened(kind, 10) if isinstance(kind, str) else ""


def read_message(opened: bytes) -> Sent | None:
    """The message inside the seal, or None for what is none of this version."""
    data = _object(opened)
    link, kind, body = (data.get(name) for name in ("link", "kind", "body"))
    try:
        about = None if kind == HANDLED else uuid.UUID(str(data["about"]))
        made_at = as_instant(data["made_at"])
    except (ValueError, KeyError):
        return None
    if made_at is None or not isinstance(kind, str) or not isinstance(body, dict):
        return None
    return Sent(
        link=link if isinstance(link, str) else "",
        # None of a longer name is known.
        kind=shortened(kind, 10),
        about=about,
        made_at=made_at,
        body=body,
    )


def body_digest(body: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()
