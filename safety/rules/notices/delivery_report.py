"""What a mail server reports about a mail it took: a delivery status notification (RFC 3464 in RFC 6522's report)."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from email import message_from_bytes
from email.message import Message
from enum import StrEnum

# Longer than this no report is read; with the whole mail returned ours stay far below.
MOST_BYTES = 1_000_000

_STATUS_PARTS = ("message/delivery-status", "message/global-delivery-status")
_RETURNED_PARTS = ("text/rfc822-headers", "message/rfc822", "message/global-headers", "message/global")
_MESSAGE_ID = re.compile(r"<[!-;=?-~]{3,250}>")
_STATUS = re.compile(r"\b[245]\.\d{1,3}\.\d{1,3}\b")


class Action(StrEnum):
    """RFC 3464, 2.3.3; the worst first."""

    FAILED = "failed"
    DELAYED = "delayed"
    RELAYED = "relayed"
    EXPANDED = "expanded"
    DELIVERED = "delivered"


_ACTIONS = frozenset(Action)


@dataclass(frozen=True)
class DeliveryReport:
    """The worst of what is said about the mail `message_id`; `mark` is the same for every copy of one report."""

    message_id: str
    action: Action
    words: str
    mark: str


class NotAReport(ValueError):
    """Not a report of a mail that can be named; the text says what is missing."""


def read_report(content: bytes) -> DeliveryReport:
    """Read one mail as it came. Raises NotAReport, and for damaged mails whatever the parser raises."""
    if len(content) > MOST_BYTES:
        raise NotAReport("too big")
    mail = message_from_bytes(content)
    if mail.get_content_type() != "multipart/report" or not mail.is_multipart():
        raise NotAReport("no multipart/report")
    # Only the report's own parts: a report inside a returned mail is about another mail.
    parts = [part for part in mail.get_payload() if isinstance(part, Message)]
    message_id = _message_id(parts)
    action, words = min(_said(parts), key=lambda said: list(Action).index(said[0]))
    own = str(mail["Message-ID"] or mail["Date"] or "")
    mark = hashlib.sha256("\n".join((own, message_id, action, words)).encode(errors="replace")).hexdigest()
    return DeliveryReport(message_id, action, words, mark[:16])


def _message_id(parts: list[Message]) -> str:
    """The Message-ID of the mail that was returned, whole or its headers alone."""
    returned = [part for part in parts if part.get_content_type() in _RETURNED_PARTS]
    if len(returned) != 1:
        raise NotAReport("not one returned mail")
    named = [str(name).strip() for name in _headers(returned[0]).get_all("Message-ID", [])]
    if len(named) != 1 or not _MESSAGE_ID.fullmatch(named[0]):
        raise NotAReport("the returned mail has no Message-ID")
    return named[0]


def _headers(part: Message) -> Message:
    inner = part.get_payload()
    if isinstance(inner, list) and inner and isinstance(inner[0], Message):
        return inner[0]
    raw = part.get_payload(decode=True)
    return message_from_bytes(raw if isinstance(raw, bytes) else str(inner).encode(errors="replace"))


def _said(parts: list[Message]) -> list[tuple[Action, str]]:
    """Action, status code and diagnostic of every recipient; the first group of fields is about the mail itself."""
    status = [part for part in parts if part.get_content_type() in _STATUS_PARTS]
    groups = status[0].get_payload() if len(status) == 1 else None
    if not isinstance(groups, list):
        raise NotAReport("not one delivery-status part")
    said = []
    for group in (one for one in groups if isinstance(one, Message)):
        action = str(group["Action"] or "").split("(")[0].strip().lower()
        if action in _ACTIONS:
            said.append((Action(action), _words(group)))
    if not said:
        raise NotAReport("no action is stated")
    return said


def _words(group: Message) -> str:
    code = _STATUS.search(str(group["Status"] or ""))
    text = f"{code.group() if code else 'no status'} {group['Diagnostic-Code'] or ''}"
    return " ".join("".join(one if one.isprintable() else " " for one in text).split())
