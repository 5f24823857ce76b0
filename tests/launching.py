"""Starting `manage.py up` as a person does, for the tests of the launcher and of the browser."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg

from tests.config.processes import CHECKOUT, descendants, running, wait_for


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def own_database(purpose: str) -> Iterator[str]:
    """A database beside the one DATABASE_URL names, gone afterwards; yields its address."""
    name = f"three_fifteen_{purpose}_{os.getpid()}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        try:
            yield urlunsplit(urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}"))
        finally:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


class Launch:
    """One `manage.py up`, its output read line by line."""

    def __init__(self, data_dir: Path, port: int, *arguments: str, **environment: str) -> None:
        kept = {
            name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}
        }
        kept |= {
            "DATA_DIR": str(data_dir),
            "PORT": str(port),
            "THREE_FIFTEEN_NO_BOOTSTRAP": "1",
            **environment,
        }
        self.port = port
        self.process = subprocess.Popen(
            [sys.executable, str(CHECKOUT / "manage.py"), "up", *arguments],
            cwd=data_dir.parent,
            env=kept,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )

    def until_ready(self) -> str:
        """What was said up to the caution that ends the greeting; fails when it ends before."""
        assert self.process.stdout
        said = ""
        for line in self.process.stdout:
            said += line
            if "clinicians decide" in line:
                return said
        raise AssertionError(f"never ready:\n{said}")

    def health(self) -> int:
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)) as connection:
            connection.request("GET", "/healthz")
            return connection.getresponse().status

    def everybody(self) -> set[int]:
        return {self.process.pid} | descendants(self.process.pid)

    def end(self, sign: signal.Signals) -> tuple[int, set[int]]:
        """Send `sign`; the exit code and the processes that were there before."""
        before = self.everybody()
        self.process.send_signal(sign)
        code = self.process.wait(30)
        wait_for(lambda: not running(before), seconds=15, what=f"everybody gone after {sign.name}")
        return code, before
