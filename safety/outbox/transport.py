"""The way out: SMTP with a fence before the final dot, or the mailbox page of the demo."""

from __future__ import annotations

import smtplib
import ssl
from collections.abc import Callable
from datetime import UTC, datetime
from email.message import EmailMessage
from urllib.parse import unquote, urlsplit

from django.conf import settings

from safety.errors import FenceDown, PermanentFailure, TemporaryFailure
from safety.models import MailboxMessage

Fence = Callable[[], bool]


def deliver(message: EmailMessage, *, fence: Fence) -> None:
    """Hand one mail over, asking `fence` just before the mail becomes the server's.

    Raises TemporaryFailure (try again), PermanentFailure (this mail or address is refused for good) or FenceDown
    (the claim was lost; nothing was sent).
    """
    if settings.SMTP_URL:
        _smtp(message, fence, settings.SMTP_URL)
    else:
        _mailbox(message, fence)


def _mailbox(message: EmailMessage, fence: Fence) -> None:
    if not fence():
        raise FenceDown
    body = message.get_body(("plain",))
    MailboxMessage.objects.create(
        message_id=str(message["Message-ID"]),
        to=str(message["To"]),
        subject=str(message["Subject"]),
        text=body.get_content() if body else "",
        received_at=datetime.now(UTC),
    )


def _smtp(message: EmailMessage, fence: Fence, url: str) -> None:
    try:
        with _connect(url) as server:
            _hand_over(server, message, fence)
    except smtplib.SMTPException as error:
        raise TemporaryFailure(f"{type(error).__name__}: {error}") from error
    except OSError as error:
        raise TemporaryFailure(f"{type(error).__name__}: {error}") from error


def _connect(url: str) -> smtplib.SMTP:
    parts = urlsplit(url)
    host, timeout = parts.hostname or "localhost", settings.SMTP_TIMEOUT_SECONDS
    context = ssl.create_default_context()
    server: smtplib.SMTP
    if parts.scheme == "smtps":
        server = smtplib.SMTP_SSL(host, parts.port or 465, timeout=timeout, context=context)
    else:
        server = smtplib.SMTP(host, parts.port or 587, timeout=timeout)
        server.ehlo()
        if server.has_extn("starttls"):
            server.starttls(context=context)
    if parts.username:
        server.login(unquote(parts.username), unquote(parts.password or ""))
    return server


def _hand_over(server: smtplib.SMTP, message: EmailMessage, fence: Fence) -> None:
    """MAIL, RCPT, DATA, text, fence, dot: smtplib's own sendmail offers no place for the fence."""
    server.ehlo_or_helo_if_needed()
    sender = message["From"].addresses[0].addr_spec
    recipient = message["To"].addresses[0].addr_spec
    _expect(server.mail(sender), 250)
    _expect(server.rcpt(recipient), 250, 251)
    server.putcmd("data")
    _expect(server.getreply(), 354)
    text = smtplib._quote_periods(message.as_bytes(policy=message.policy.clone(linesep="\r\n")))  # type: ignore[attr-defined]
    server.send(text if text.endswith(b"\r\n") else text + b"\r\n")
    if not fence():
        # Closing without the dot: the server must drop what it has (RFC 5321, 4.1.1.4).
        server.close()
        raise FenceDown
    server.send(b".\r\n")
    _expect(server.getreply(), 250)


def _expect(reply: tuple[int, bytes], *wanted: int) -> None:
    code, text = reply
    if code in wanted:
        return
    said = f"{code} {text.decode(errors='replace')}"
    if 500 <= code < 600:
        raise PermanentFailure(said)
    raise TemporaryFailure(said)
