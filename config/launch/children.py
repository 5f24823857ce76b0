"""The processes that `up` starts, their logs, and their end."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from config.launch import keeper
from config.launch.refusal import LaunchRefused

MOST_RESTARTS = 3
LOG_LIMIT_BYTES = 5_000_000
KEEPER_GONE = (
    "The keeper was stopped from outside, and without it the others could outlive this command: stopping all."
)


@dataclass
class Log:
    """The file one child writes to, read on from where the last look ended."""

    name: str
    path: Path
    seen: int = 0

    def open_for_child(self) -> BinaryIO:
        """Keep one older file when this one is large; the child appends to what is opened here."""
        if self.path.exists() and self.path.stat().st_size > LOG_LIMIT_BYTES:
            self.path.replace(self.path.with_suffix(".old.log"))
        file = self.path.open("ab")
        self.seen = file.tell()
        return file

    def news(self) -> list[str]:
        """The whole lines written since the last look, each with the name of the child in front."""
        with self.path.open("rb") as file:
            file.seek(self.seen)
            whole, newline, _ = file.read().rpartition(b"\n")
        self.seen += len(whole) + len(newline)
        return [f"{self.name:<6} | {line}" for line in whole.decode(errors="replace").splitlines()]


@dataclass
class Child:
    """One kind of process, started again a few times when it ends by itself."""

    name: str
    command: Sequence[str]
    log: Log
    process: subprocess.Popen[bytes] | None = None
    restarts: int = 0
    start_again_at: float | None = None


@dataclass
class Family:
    """All children of one launcher and the keeper that ends them; call `start_keeper` first, `end` last."""

    folder: Path
    logs: Path
    environment: Mapping[str, str]
    children: list[Child] = field(default_factory=list)
    keeper: subprocess.Popen[bytes] | None = None

    def start_keeper(self, *, held: int) -> None:
        """`held` is the lock of the data folder: the keeper shares it until the last child is gone."""
        with (self.logs / "keeper.log").open("ab") as log:
            self.keeper = subprocess.Popen(
                [sys.executable, "-I", "-S", keeper.__file__],
                stdin=subprocess.PIPE,
                stdout=log,
                stderr=log,
                bufsize=0,
                start_new_session=True,
                pass_fds=(held,),
            )

    def add(self, name: str, command: Sequence[str]) -> None:
        child = Child(name, [sys.executable, *command], Log(name, self.logs / f"{name}.log"))
        self.children.append(child)
        self._start(child)

    def _tell_keeper(self, line: bytes) -> None:
        if self.keeper is None or self.keeper.stdin is None:
            raise LaunchRefused("The keeper must be started before any other process.")
        try:
            os.write(self.keeper.stdin.fileno(), line)
        except BrokenPipeError:
            raise LaunchRefused(KEEPER_GONE) from None

    def _start(self, child: Child) -> None:
        def announce() -> None:
            # In the child, already in its own session, before it becomes the program: nothing can be missed.
            self._tell_keeper(b"+%d\n" % os.getpid())

        child.start_again_at = None
        with child.log.open_for_child() as log:
            try:
                child.process = subprocess.Popen(
                    child.command,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=log,
                    cwd=self.folder,
                    env=dict(self.environment),
                    start_new_session=True,
                    preexec_fn=announce,
                )
            except subprocess.SubprocessError:
                raise LaunchRefused(KEEPER_GONE) from None

    def look(self, *, now: float, may_restart: bool) -> list[str]:
        """Lines that say what ended; it starts again after a moment, or LaunchRefused says that all must stop."""
        if self.keeper is None or self.keeper.poll() is not None:
            raise LaunchRefused(KEEPER_GONE)
        said: list[str] = []
        for child in self.children:
            if child.start_again_at is None and child.process and child.process.poll() is not None:
                said.append(self._ended(child, child.process, now=now, may_restart=may_restart))
            elif child.start_again_at is not None and now >= child.start_again_at:
                self._start(child)
        return said

    def _ended(self, child: Child, process: subprocess.Popen[bytes], *, now: float, may_restart: bool) -> str:
        keeper.end_groups([process.pid], grace=2.0)
        self._tell_keeper(b"-%d\n" % process.pid)
        last_words = "\n".join(child.log.news()[-15:])
        what = f"{last_words}\n{child.name} ended by itself (exit code {process.returncode}; log: {child.log.path})"
        if not may_restart or child.restarts == MOST_RESTARTS:
            raise LaunchRefused(f"{what}: stopping all.")
        child.restarts += 1
        child.start_again_at = now + 2 ** (child.restarts - 1)
        return f"{what}; starting it again."

    def news(self) -> list[str]:
        return [line for child in self.children for line in child.log.news()]

    def end(self) -> None:
        """Close the pipe, let the keeper end every child, and return when all are gone."""
        if self.keeper is None or self.keeper.stdin is None:
            return
        self.keeper.stdin.close()
        deadline = time.monotonic() + keeper.GRACE_SECONDS + 4
        while self.keeper.poll() is None and time.monotonic() < deadline:
            self._wait_for_ended()
            time.sleep(0.02)
        # Nothing is left here unless the keeper itself was killed.
        groups = [child.process.pid for child in self.children if child.process]
        keeper.end_groups(groups, grace=2.0, meanwhile=self._wait_for_ended)

    def _wait_for_ended(self) -> None:
        for child in self.children:
            if child.process:
                child.process.poll()
