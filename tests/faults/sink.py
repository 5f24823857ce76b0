"""A real SMTP server that misbehaves on request, in a process of its own: `python -m tests.faults.sink PORT FOLDER`.

It notes each mail it has taken as a line of FOLDER/taken before it answers, and reads its manners from
FOLDER/manners before each mail: ok, 4xx, hang, drop (no answer, mail thrown away), drop-kept (no answer, mail
kept: the sender can't know, RFC 1047) and reset. Addresses with "refused" in them get 550, always.
"""

from __future__ import annotations

import asyncio
import json
import socket
import struct
import sys
import time
from dataclasses import dataclass
from email import message_from_bytes
from pathlib import Path
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

MANNERS = ("ok", "4xx", "hang", "drop", "drop-kept", "reset")
HANG_SECONDS = 30


@dataclass
class Sink:
    folder: Path
    seconds_a_mail: float

    async def handle_RCPT(
        self, _server: SMTP, _session: Session, envelope: Envelope, address: str, _options: list[str]
    ) -> str:
        if "refused" in address:
            return "550 5.1.1 no such mailbox"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, _session: Session, envelope: Envelope) -> str:
        manners = (self.folder / "manners").read_text().strip()
        await asyncio.sleep(self.seconds_a_mail)
        if manners == "4xx":
            return "451 4.3.0 try again later"
        if manners == "hang":
            await asyncio.sleep(HANG_SECONDS)
            return "451 4.3.0 too late"
        if manners in ("ok", "drop-kept"):
            self._take(envelope, manners)
        if manners != "ok":
            self._hang_up(server, with_reset=manners == "reset")
        return "250 OK"

    def _take(self, envelope: Envelope, manners: str) -> None:
        mail = message_from_bytes(envelope.content or b"")
        row = {
            "message_id": mail["Message-ID"],
            "subject": mail["Subject"],
            "to": envelope.rcpt_tos,
            "at": time.time(),
            "manners": manners,
        }
        with (self.folder / "taken").open("a") as file:
            file.write(json.dumps(row) + "\n")

    @staticmethod
    def _hang_up(server: Any, *, with_reset: bool) -> None:
        if with_reset:
            wire = server.transport.get_extra_info("socket")
            wire.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        server.transport.abort()


def main() -> None:
    port, folder, seconds = int(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3])
    controller = Controller(Sink(folder, seconds), hostname="127.0.0.1", port=port)
    controller.start()
    (folder / "sink-ready").touch()
    while True:
        time.sleep(60)


if __name__ == "__main__":
    main()
