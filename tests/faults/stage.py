"""A database, a mail server and processes of one fault run, all its own and all gone at its end."""

from __future__ import annotations

import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import psycopg
from psycopg import sql

from tests.faults.servers import OwnPostgres, OwnRedis, free_port, missing, wait_until

CHECKOUT = Path(__file__).resolve().parent.parent.parent
CELERY = ("-m", "celery", "-A", "config.celery:app")
POOL = ("--pool", "threads", "--concurrency", "2", "--without-gossip", "--without-mingle")


def say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _listens(port: int) -> bool:
    socket.create_connection(("127.0.0.1", port), timeout=1).close()
    return True


@dataclass
class Stage:
    """Use as a context. Sets this process's environment, so that Django can be set up inside it.

    `own_servers`: a PostgreSQL cluster and a Redis of the run's own instead of those of DATABASE_URL and REDIS_URL,
    so that they may be stopped.
    """

    own_servers: bool = False
    lease_seconds: float = 6
    children: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    commands: dict[str, tuple[str, ...]] = field(default_factory=dict)
    folder: Path = field(init=False)
    smtp_port: int = field(init=False)
    sink_port: int = field(init=False)
    server_url: str = field(init=False)
    database: str = field(init=False, default="")
    redis: OwnRedis | None = None
    postgres: OwnPostgres | None = None

    def __enter__(self) -> Stage:
        self._temporary = tempfile.TemporaryDirectory(prefix="three-fifteen-faults-")
        self.folder = Path(self._temporary.name)
        self.smtp_port, self.sink_port = free_port(), free_port()
        if self.own_servers:
            self._start_servers()
        self.server_url = os.environ.get("DATABASE_URL", "")
        os.environ |= {
            "DATA_DIR": str(self.folder),
            "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
            "SMTP_URL": f"smtp://127.0.0.1:{self.smtp_port}",
            "DEMO": "0",
            "LOG_LEVEL": "WARNING",
            "PYTHONPATH": str(CHECKOUT),
        }
        self.use_lease(self.lease_seconds)
        os.environ.pop("FAULTS_DATABASE", None)
        if self.server_url:
            self.database = f"faults_{secrets.token_hex(4)}"
            self._on_server(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(self.database)))
            parts = urlsplit(self.server_url)
            os.environ["DATABASE_URL"] = urlunsplit(parts._replace(path=f"/{self.database}"))
        return self

    def __exit__(self, *_: object) -> None:
        for name in list(self.children):
            self.kill(name)
        if self.database:
            self._on_server(
                sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(self.database))
            )
        for server in (self.redis, self.postgres):
            if server:
                server.close()
        self._temporary.cleanup()

    def _start_servers(self) -> None:
        if why := missing():
            raise SystemExit(why)
        self.redis, self.postgres = OwnRedis(), OwnPostgres()
        self.redis.start()
        self.postgres.start()
        os.environ |= {"DATABASE_URL": self.postgres.url, "REDIS_URL": self.redis.url}

    def use_lease(self, seconds: float, *, tick: float = 1, mail_timeout: float = 2) -> None:
        """Settings of the senders started from here on; the service's own are 120, 30 and 20."""
        self.lease_seconds = seconds
        os.environ |= {
            "FAULTS_LEASE_SECONDS": str(seconds),
            "FAULTS_TICK_SECONDS": str(tick),
            "FAULTS_SMTP_SECONDS": str(mail_timeout),
        }

    @property
    def sqlite_file(self) -> Path | None:
        return None if self.database else self.folder / "three-fifteen.sqlite3"

    def _on_server(self, statement: sql.Composable) -> None:
        with psycopg.connect(self.server_url, autocommit=True) as connection:
            connection.execute(statement)

    def cut_database_connections(self) -> None:
        """What every client sees of a database that restarts; only connections to our own database."""
        with psycopg.connect(self.server_url, autocommit=True) as connection:
            connection.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [self.database]
            )

    # Processes

    def start(self, name: str, *command: str) -> None:
        """Start (or start again) a child in a session of its own; its output goes to a file of its name."""
        self.commands[name] = command or self.commands[name]
        with (self.folder / f"{name}.log").open("ab") as log:
            self.children[name] = subprocess.Popen(
                [sys.executable, *self.commands[name]],
                cwd=CHECKOUT,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )

    def kill(self, name: str) -> None:
        child = self.children[name]
        if child.poll() is None:
            os.killpg(child.pid, signal.SIGKILL)
        child.wait()

    def freeze(self, name: str, *, frozen: bool) -> None:
        if self.children[name].poll() is None:
            os.killpg(self.children[name].pid, signal.SIGSTOP if frozen else signal.SIGCONT)

    def start_sink(self, seconds_a_mail: float) -> None:
        """The mail server, and the proxy through which alone the senders reach it."""
        self.manners("ok")
        sink = (str(self.sink_port), str(self.folder), str(seconds_a_mail))
        self.start("sink", "-m", "tests.faults.sink", *sink)
        proxy = (str(self.smtp_port), str(self.sink_port), str(self.folder))
        self.start("proxy", "-m", "tests.faults.proxy", *proxy)
        for port, what in ((self.sink_port, "The mail sink"), (self.smtp_port, "The proxy")):
            wait_until(lambda port=port: _listens(port), what)  # type: ignore[misc]

    def senders(self) -> list[str]:
        return [name for name in self.children if name not in ("sink", "proxy", "locker")]

    def start_senders(self, pairs: int = 2) -> None:
        """Two workers, two clocks and two broker-free loops, all at once."""
        for n in range(1, pairs + 1):
            self.start(f"worker{n}", *CELERY, "worker", *POOL, "-n", f"w{n}@here", "--loglevel", "WARNING")
            schedule = str(self.folder / f"beat{n}-schedule")
            self.start(
                f"beat{n}", *CELERY, "beat", "--schedule", schedule, "--pidfile", "", "--loglevel", "WARNING"
            )
            self.start(f"loop{n}", "-m", "django", "send_due", "--loop", "0.5")

    # The mail server

    def manners(self, name: str) -> None:
        fresh = self.folder / "manners.new"
        fresh.write_text(name)
        fresh.replace(self.folder / "manners")

    def taken(self) -> list[dict[str, Any]]:
        """Every mail the sink has taken, in order."""
        return [json.loads(line) for line in self._lines("taken")]

    def unanswered(self) -> int:
        """How many mails the proxy let the server take without a timely answer to the sender."""
        return len(self._lines("unanswered"))

    def _lines(self, name: str) -> list[str]:
        path = self.folder / name
        return path.read_text().splitlines() if path.exists() else []
