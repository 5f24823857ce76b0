"""A real mail server inside the test process, with an answer for every command that can be set."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, Session


@dataclass
class MailServer:
    """`answers` maps a command (MAIL, RCPT, DATA, QUIT) to what is said instead of 250."""

    answers: dict[str, str] = field(default_factory=dict)
    taken: list[EmailMessage] = field(default_factory=list)
    recipients: list[list[str]] = field(default_factory=list)
    port: int = 0

    async def handle_MAIL(
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if "MAIL" not in self.answers:
            envelope.mail_from = address
        return self.answers.get("MAIL", "250 OK")

    async def handle_RCPT(
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if "RCPT" not in self.answers:
            envelope.rcpt_tos.append(address)
        return self.answers.get("RCPT", "250 OK")

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:
        if "DATA" not in self.answers:
            content = envelope.content if isinstance(envelope.content, bytes) else b""
            self.taken.append(message_from_bytes(content, policy=policy.default))  # type: ignore[arg-type]
            self.recipients.append(list(envelope.rcpt_tos))
        return self.answers.get("DATA", "250 OK")

    async def handle_QUIT(self, _server: SMTP, _session: Session, _envelope: Envelope) -> str:
        return self.answers.get("QUIT", "221 Bye")


@contextmanager
def mail_server(**options: Any) -> Iterator[MailServer]:
    """A server on a free port of this machine; `options` go to aiosmtpd."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        server = MailServer(port=probe.getsockname()[1])
    controller = Controller(server, hostname="127.0.0.1", port=server.port, **options)
    controller.start()
    try:
        yield server
    finally:
        controller.stop()


def refuse_everybody(*_: Any) -> AuthResult:
    return AuthResult(success=False, handled=False)
