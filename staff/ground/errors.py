"""What services refuse with. Every refusal has a code, a sentence and, where it helps, the fields to mend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date


class Refused(Exception):
    """Base of every refusal; `message` says what happened and what to do."""

    code = "refused"

    def __init__(
        self, message: str, *, code: str | None = None, fields: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(message)
        self.message = message
        self.code = code or self.code
        self.fields = dict(fields or {})


class Invalid(Refused):
    """The data can't be taken as they are; `fields` names each and the remedy."""

    code = "invalid"

    def __init__(self, fields: Mapping[str, str], message: str = "") -> None:
        super().__init__(message or " ".join(fields.values()), fields=fields)


class Conflict(Refused):
    """The thing is in a state that does not allow this; the message names it and its state."""

    code = "conflict"


class NotAllowed(Refused):
    code = "not-allowed"


class NotThere(Refused):
    """What is named isn't there, or not for this account: the two look the same from outside."""

    code = "not-found"


class NotCleared(Refused):
    """A person may not be rostered on that date; `reasons` are sentences."""

    code = "not-cleared"

    def __init__(self, message: str, *, reasons: Sequence[str], clear_from: date | None) -> None:
        super().__init__(message, fields={"person": " ".join(reasons)})
        self.reasons = list(reasons)
        self.clear_from = clear_from


class TooMany(Refused):
    """Too many tries or too much at once; `retry_after` is in seconds."""

    code = "too-many-requests"

    def __init__(self, message: str, *, retry_after: int) -> None:
        super().__init__(message)
        self.retry_after = retry_after


class KeyReused(Refused):
    """The same key came with another body."""

    code = "key-reused"
