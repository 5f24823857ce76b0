"""What must be true before the first process starts: folder, port, database, demo."""

from __future__ import annotations

import fcntl
import io
import os
import socket
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import django
from django.apps import apps
from django.contrib.auth import get_user_model
from django.core.management import call_command, get_commands, load_command_class
from django.db import DatabaseError, connection, connections, transaction
from django.db.migrations.executor import MigrationExecutor

from config.launch.refusal import LaunchRefused
from staff import guards

WAIT_FOR_ENDING_SECONDS = 15.0


def claim_folder(data_dir: Path, *, say: Callable[[str], None]) -> int:
    """Make the data folder and hold its lock; returns the descriptor, which must stay open.

    The lock also lives in the keeper, so a run that was killed is waited for until its last process is gone.
    """
    try:
        # Health data live here: for this user alone.
        data_dir.mkdir(mode=0o700, parents=True, exist_ok=True)
        (data_dir / "logs").mkdir(exist_ok=True)
        descriptor = os.open(data_dir / "up.lock", os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise LaunchRefused(
            f"The data folder {data_dir} can't be written ({error.strerror}): make it writable, or choose "
            f"another, for example `DATA_DIR=$HOME/three-fifteen python3 manage.py up`."
        ) from None
    deadline = time.monotonic() + WAIT_FOR_ENDING_SECONDS
    while not _locked(descriptor):
        holder = os.pread(descriptor, 20, 0).decode().strip()
        if time.monotonic() > deadline or _is_running(holder):
            os.close(descriptor)
            raise LaunchRefused(
                f"Three-Fifteen is already running on {data_dir} (process {holder or 'unknown'}): stop it with "
                "Ctrl-C where it runs, or choose another folder and port, for example "
                "`DATA_DIR=data-2 PORT=8001 python3 manage.py up`."
            )
        say("The run before this one is still ending; waiting for it.")
        time.sleep(1)
    os.ftruncate(descriptor, 0)
    os.pwrite(descriptor, str(os.getpid()).encode(), 0)
    return descriptor


def _locked(descriptor: int) -> bool:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_running(holder: str) -> bool:
    try:
        os.kill(int(holder), 0)
    except (ValueError, ProcessLookupError):
        return False
    except PermissionError:
        return True
    return True


def check_port(port: int) -> None:
    """Raise LaunchRefused when the web server could not listen on `port`."""
    other = f"choose another, for example `PORT={port + 1 if port < 65535 else 8000} python3 manage.py up`."
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
            probe.listen()
        except PermissionError:
            raise LaunchRefused(f"Port {port} is not open to this user: {other}") from None
        except OSError as error:
            raise LaunchRefused(f"Port {port} can't be used ({error.strerror}): {other}") from None


def prepare_database() -> None:
    """Bring the database to the newest form, in this process; refuse one that can't be reached or lacks guards."""
    django.setup()
    try:
        # A start that has nothing to migrate is spared the second and a half that asking costs.
        if unmigrated() or guards.missing(connection):
            call_command("migrate", interactive=False, verbosity=0)
        guards.require()
    except DatabaseError as error:
        raise LaunchRefused(
            f"The database can't be used: {str(error).strip()} Start it, or correct DATABASE_URL, and try again."
        ) from None
    connections.close_all()


def unmigrated() -> bool:
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def load_demo_once() -> str:
    """Load the demo when no site is there yet, whole or not at all; returns what the command said, or ""."""
    said = io.StringIO()
    if not apps.get_model("staff", "Site")._default_manager.exists():
        with transaction.atomic():
            call_command("load_demo", stdout=said)
    connections.close_all()
    return said.getvalue().strip()


def demo_accounts() -> list[str]:
    """One line (name, password, who it is) for each demo account that is in the database.

    They come from the constant ACCOUNTS beside the command that makes them.
    """
    command: Any = load_command_class(get_commands()["load_demo"], "load_demo")
    accounts: Sequence[Sequence[str]] = sys.modules[type(command).__module__].ACCOUNTS
    people = get_user_model()._default_manager
    present = set(
        people.filter(username__in=[account[0] for account in accounts]).values_list("username", flat=True)
    )
    connections.close_all()
    return ["  ".join(account) for account in accounts if account[0] in present]
