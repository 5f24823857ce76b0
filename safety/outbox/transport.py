"""The way out: SMTP with a fence before the final dot, or the mailbox page of the demo."""

from __future__ import annotations

import logging
import smtplib
import ssl
from collections.abc import Callable
from datetime import UTC, datetime
from email.message import EmailMessage
from functools import cache
from urllib.parse import SplitResult, unquote, urlsplit

from django.conf import settings

from safety.errors import FenceDown, PermanentFailure, TemporaryFailure
from safety.models import MailboxMessage

logger = logging.getLogger(__name__)
Fence = Callable[[], bool]
LOOPBACK = ("127.0.0.1", "::1", "localhost")


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
        server = _connect(url)
        try:
            _hand_over(server, message, fence)
        finally:
            _leave(server)
    except (smtplib.SMTPException, OSError) as error:
        raise TemporaryFailure(f"{type(error).__name__}: {error}") from error
    except UnicodeError as error:
        raise PermanentFailure(f"The address can't be written in a mail command: {error}") from error


@cache
def _trust() -> ssl.SSLContext:
    # Reading the certificates of the machine takes 30 ms: once a process, not once a mail.
    return ssl.create_default_context()


def _connect(url: str) -> smtplib.SMTP:
    parts = urlsplit(url)
    host, timeout = parts.hostname or "localhost", settings.SMTP_TIMEOUT_SECONDS
    server: smtplib.SMTP
    if parts.scheme == "smtps":
        server = smtplib.SMTP_SSL(host, parts.port or 465, timeout=timeout, context=_trust())
    else:
        server = smtplib.SMTP(host, parts.port or 587, timeout=timeout)
    try:
        _introduce(server, parts)
    except BaseException:
        server.close()
        raise
    return server


def _introduce(server: smtplib.SMTP, parts: SplitResult) -> None:
    server.ehlo()
    sealed = parts.scheme == "smtps"
    if not sealed and server.has_extn("starttls"):
        server.starttls(context=_trust())
        sealed = True
    if parts.username:
        if not sealed and parts.hostname not in LOOPBACK:
            # Whoever can strip STARTTLS from the greeting would be handed the password.
            raise TemporaryFailure(
                "The mail server offers no STARTTLS; the password isn't sent in the clear."
            )
        server.login(unquote(parts.username), unquote(parts.password or ""))


def _leave(server: smtplib.SMTP) -> None:
    """Say goodbye. What the server answers changes nothing: the mail is taken or it isn't."""
    try:
        server.quit()
    except (smtplib.SMTPException, OSError) as error:
        logger.debug("The mail server did not take leave: %s", error)
    finally:
        server.close()


def _hand_over(server: smtplib.SMTP, message: EmailMessage, fence: Fence) -> None:
    """MAIL, RCPT, DATA, text, fence, dot: smtplib's own sendmail offers no place for the fence."""
    server.ehlo_or_helo_if_needed()
    sender = message["From"].addresses[0].addr_spec
    recipient = message["To"].addresses[0].addr_spec
    code, said = server.mail(sender)
    if code != 250:
        # A refused sender is a matter of settings, not of this notice: it must not end as failed.
        raise TemporaryFailure(f"{code} {said.decode(errors='replace')}")
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
