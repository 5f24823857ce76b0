"""A stored message, opened."""

from __future__ import annotations

from django.views.decorators.debug import sensitive_variables

from safety.models import PhoneMessage
from safety.services.phone.keys import seal_open
from safety.services.phone.reading import Sent, read_kind, read_message


@sensitive_variables("opened")
def message_opened(message: PhoneMessage) -> Sent | None:
    """What the message says, or None when it can't be opened or read here."""
    opened = seal_open(key_id=message.key_id, sealed=message.sealed, key=message.key)
    return read_message(opened) if opened is not None else None


@sensitive_variables("opened")
def message_kind(message: PhoneMessage) -> str:
    """The kind it names, also where the rest can't be read; empty when it can't be opened."""
    opened = seal_open(key_id=message.key_id, sealed=message.sealed, key=message.key)
    return read_kind(opened) if opened is not None else ""
