"""A real SMTP server in a process of its own: `python -m tests.faults.sink PORT FOLDER SECONDS_A_MAIL`.

It notes each mail it has taken as a line of FOLDER/taken before it answers. Addresses with "refused" in them get
550, always. It has no bad manners of its own; those are the proxy's before it.
"""

from __future__ import annotations

import asyncio
import json
import sys
import time
from dataclasses import dataclass
from email import message_from_bytes
from pathlib import Path

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


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

    async def handle_DATA(self, _server: SMTP, _session: Session, envelope: Envelope) -> str:
        await asyncio.sleep(self.seconds_a_mail)
        mail = message_from_bytes(envelope.content or b"")  # type: ignore[arg-type]
        row = {
            "message_id": mail["Message-ID"],
            "subject": mail["Subject"],
            "to": envelope.rcpt_tos,
            "at": time.time(),
        }
        with (self.folder / "taken").open("a") as file:
            file.write(json.dumps(row) + "\n")
        return "250 OK"


def main() -> None:
    port, folder, seconds = int(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3])
    Controller(Sink(folder, seconds), hostname="127.0.0.1", port=port).start()
    while True:
        time.sleep(60)


if __name__ == "__main__":
    main()
