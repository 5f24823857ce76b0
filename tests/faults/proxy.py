"""A proxy of our own between the senders and the mail server: `python -m tests.faults.proxy PORT TARGET FOLDER`.

It speaks just enough SMTP to know at which step a conversation is, and reads its manners from FOLDER/manners at each:

    ok                                     everything passes
    refuse                                 nobody listens
    4xx-mail, 4xx-rcpt, 4xx-data, 4xx-dot  a temporary answer at that step (4xx-greeting: 421), nothing passed on
    hang-greeting, hang-mail, hang-dot     no answer at that step, nothing passed on
    drop, reset                            closed, or reset (RST), in place of passing the final dot on
    close-late, reset-late                 the dot is passed on and the mail taken; ended before the answer
    drip                                   answers come byte by byte

After close-late, reset-late and a dripped answer to the dot the sender can't know, or learns late, that the
mail is the server's (RFC 1047); each of these is a line of FOLDER/unanswered.
"""

from __future__ import annotations

import asyncio
import socket
import struct
import sys
from asyncio import StreamReader, StreamWriter
from contextlib import suppress
from pathlib import Path

STEPS = ("greeting", "mail", "rcpt", "data", "dot")
MANNERS = (
    "refuse",
    *(f"4xx-{step}" for step in STEPS),
    "hang-greeting",
    "hang-mail",
    "hang-dot",
    "drop",
    "reset",
    "close-late",
    "reset-late",
    "drip",
)
HANG_SECONDS = 30
DRIP_SECONDS_A_BYTE = 0.1


class Gone(Exception):
    """This conversation is over."""


class Proxy:
    def __init__(self, target: int, folder: Path) -> None:
        self.target, self.folder = target, folder

    def manners(self) -> str:
        return (self.folder / "manners").read_text().strip()

    async def serve(self, port: int) -> None:
        """Listen, but for the times in which nobody is to."""
        (self.folder / "proxy-ready").touch()
        server = None
        while True:
            if self.manners() == "refuse" and server:
                server.close()
                server = None
            elif self.manners() != "refuse" and not server:
                server = await asyncio.start_server(self.talk, "127.0.0.1", port)
            await asyncio.sleep(0.02)

    async def talk(self, reader: StreamReader, writer: StreamWriter) -> None:
        try:
            above, below = await asyncio.open_connection("127.0.0.1", self.target)
        except OSError:
            writer.transport.abort()
            return
        talk = Talk(self, reader, writer, above, below)
        with suppress(Gone, OSError, asyncio.IncompleteReadError):
            await talk.run()
        for end in (below, writer):
            end.close()


class Talk:
    """One conversation: `reader` and `writer` towards the sender, `above` and `below` towards the mail server."""

    def __init__(
        self,
        proxy: Proxy,
        reader: StreamReader,
        writer: StreamWriter,
        above: StreamReader,
        below: StreamWriter,
    ) -> None:
        self.proxy, self.reader, self.writer, self.above, self.below = proxy, reader, writer, above, below

    async def run(self) -> None:
        await self.step("greeting", b"")
        while line := await self.reader.readline():
            name = line[:4].decode(errors="replace").strip().lower()
            await self.step(name, line)
            if name == "data":
                await self.text()

    async def text(self) -> None:
        """Pass the text on; the final dot is a step of its own."""
        while (line := await self.reader.readline()) != b".\r\n":
            if not line:
                raise Gone
            self.below.write(line)
        await self.step("dot", line)

    async def step(self, name: str, line: bytes) -> None:
        manners = self.proxy.manners()
        if manners == f"4xx-{name}":
            self.writer.write(b"421 4.3.2 closing\r\n" if name == "greeting" else b"451 4.3.0 try later\r\n")
            await self.writer.drain()
            raise Gone
        if manners == f"hang-{name}":
            await asyncio.sleep(HANG_SECONDS)
            raise Gone
        if name == "dot" and manners in ("drop", "reset"):
            self.hang_up(with_reset=manners == "reset")
        self.below.write(line)
        await self.answer(name, await self.reply(), manners)

    async def reply(self) -> bytes:
        """The server's answer, all its lines."""
        said = b""
        while line := await self.above.readline():
            said += line
            if line[3:4] != b"-":
                return said
        raise Gone

    async def answer(self, name: str, said: bytes, manners: str) -> None:
        if name == "dot" and manners in ("close-late", "reset-late", "drip"):
            with (self.proxy.folder / "unanswered").open("a") as file:
                file.write(f"{manners}\n")
        if name == "dot" and manners in ("close-late", "reset-late"):
            self.hang_up(with_reset=manners == "reset-late")
        if manners != "drip":
            self.writer.write(said)
            await self.writer.drain()
            return
        for byte in said:
            self.writer.write(bytes([byte]))
            await self.writer.drain()
            await asyncio.sleep(DRIP_SECONDS_A_BYTE)

    def hang_up(self, *, with_reset: bool) -> None:
        if with_reset:
            wire = self.writer.get_extra_info("socket")
            wire.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.writer.transport.abort()
        self.below.transport.abort()
        raise Gone


if __name__ == "__main__":
    asyncio.run(Proxy(int(sys.argv[2]), Path(sys.argv[3])).serve(int(sys.argv[1])))
