"""A PostgreSQL cluster and a Redis server of one run's own, that may be stopped, killed and started at will."""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psycopg
import redis


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until(ready: Callable[[], object], what: str, seconds: float = 30) -> None:
    """Ask until `ready` neither raises nor says no."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        try:
            if ready():
                return
        except (OSError, psycopg.Error, redis.RedisError):
            pass
        time.sleep(0.05)
    raise SystemExit(f"{what} does not answer.")


def postgres_programs() -> Path | None:
    """The folder with initdb and postgres, or None."""
    asked = shutil.which("pg_config")
    told = subprocess.run([asked, "--bindir"], capture_output=True, text=True).stdout.strip() if asked else ""
    found = [Path(told)] if told else []
    found += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    found += [Path(on_path).resolve().parent] if (on_path := shutil.which("initdb")) else []
    return next((f for f in found if (f / "initdb").exists() and (f / "postgres").exists()), None)


def missing() -> str:
    """What keeps this machine from running servers of its own, in a sentence; empty when nothing does."""
    if not shutil.which("redis-server"):
        return "There is no redis-server here; install the package redis-server."
    if postgres_programs() is None:
        return "There are no PostgreSQL programs here (initdb, postgres); install the package postgresql."
    if os.geteuid() == 0 and _owner() is None:
        return "PostgreSQL refuses to run as root and there is no user postgres; run this as another user."
    return ""


def _owner() -> str | None:
    """Who runs PostgreSQL: it refuses root."""
    if os.geteuid():
        return getpass.getuser()
    try:
        return pwd.getpwnam("postgres").pw_name
    except KeyError:
        return None


class Server:
    """A child in a session of its own, on a free port of this machine."""

    def __init__(self) -> None:
        self.port = free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="three-fifteen-server-"))
        self.child: subprocess.Popen[bytes] | None = None

    def _run(self, *command: str, **options: Any) -> None:
        with (self.folder / "log").open("ab") as log:
            self.child = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True, **options
            )

    def _end(self, how: signal.Signals) -> None:
        if self.child and self.child.poll() is None:
            self.child.send_signal(how)
            self.child.wait()

    def close(self) -> None:
        self._end(signal.SIGKILL)
        shutil.rmtree(self.folder, ignore_errors=True)


class OwnRedis(Server):
    """Keeps nothing: a stop loses all it held."""

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        place = ("--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self.folder))
        self._run("redis-server", *place, "--save", "", "--appendonly", "no")
        wait_until(lambda: redis.Redis.from_url(self.url).ping(), "Our own Redis")

    def stop(self, *, hard: bool) -> None:
        self._end(signal.SIGKILL if hard else signal.SIGTERM)


class OwnPostgres(Server):
    """A new cluster. `fast` ends every session and shuts down; `immediate` is a crash, recovered from at the start."""

    def __init__(self) -> None:
        super().__init__()
        programs = postgres_programs()
        assert programs is not None
        self.programs, self.data = programs, self.folder / "data"
        self._as: dict[str, Any] = {"cwd": "/"}
        if os.geteuid() == 0:
            self._as |= {"user": "postgres", "group": "postgres", "extra_groups": []}
            shutil.chown(self.folder, "postgres", "postgres")
        subprocess.run(
            [str(programs / "initdb"), "-D", str(self.data), "-A", "trust", "-U", "faults", "-E", "UTF8"],
            check=True,
            stdout=subprocess.DEVNULL,
            **self._as,
        )

    @property
    def url(self) -> str:
        return f"postgres://faults@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        place = ("-D", str(self.data), "-p", str(self.port), "-c", "listen_addresses=127.0.0.1")
        self._run(str(self.programs / "postgres"), *place, "-c", "unix_socket_directories=", **self._as)
        wait_until(self._answers, "Our own PostgreSQL", 60)

    def _answers(self) -> bool:
        with psycopg.connect(self.url, connect_timeout=2) as connection:
            return connection.execute("SELECT 1").fetchone() == (1,)

    def restart(self, *, hard: bool, down_seconds: float) -> None:
        self._end(signal.SIGQUIT if hard else signal.SIGINT)
        time.sleep(down_seconds)
        self.start()

    def close(self) -> None:
        # SIGKILL would leave its children and its shared memory behind.
        self._end(signal.SIGQUIT)
        super().close()
