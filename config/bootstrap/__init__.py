"""Make the program's own environment (.venv, from a lock with hashes) and start again inside it.

Runs before anything is installed: the standard library only, and English only, since translations
come with Django. Every refusal is one sentence that says what to do, with exit code 2.
manage.py loads this package by its path, because `config` needs what is about to be installed.
"""

from __future__ import annotations

import fcntl
import os
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from .install import create, explain, fill, say
from .place import Place, SetupRefused, is_ready, line_of, version_of

STAY_OUT = "THREE_FIFTEEN_NO_BOOTSTRAP"
ENTERED = "THREE_FIFTEEN_ENTERED"


@contextmanager
def _alone(place: Place) -> Iterator[int]:
    """Hold the setup lock and yield its descriptor; installers inherit it, so that one left behind by a
    killed setup keeps the next setup waiting instead of writing into the same folder."""
    descriptor = os.open(place.root / ".venv.lock", os.O_RDWR | os.O_CREAT, 0o644)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another start is setting up this folder; waiting for it.")
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield descriptor
    finally:
        os.close(descriptor)


def make(place: Place, lock: Path) -> None:
    """Bring .venv to what `lock` says; raises SetupRefused. Safe to be killed at any moment and to run twice."""
    with _alone(place) as held:
        if is_ready(place, lock):
            return
        began = time.monotonic()
        if place.begun.exists() or version_of(place) is None:
            create(place, held)
        place.begun.touch()
        place.stamp.unlink(missing_ok=True)
        if not fill(place, held, lock):
            raise SetupRefused(explain(place, "The packages could not be installed"))
        # The lock of the tests holds the whole of the other one.
        installed = place.locks if lock == place.locks[1] else (lock,)
        lines = [f"python {version_of(place)}", *map(line_of, installed)]
        place.stamp.write_text("\n".join(lines) + "\n")
        place.begun.unlink()
        say(f"Ready after {time.monotonic() - began:.0f} s.")


def enter(argv: Sequence[str], *, root: Path) -> None:
    """Return when already inside a ready environment; otherwise make it and become the same command there.

    The process keeps its id. Exits with code 2 and one sentence when the environment can't be made.
    """
    if os.environ.get(STAY_OUT) == "1":
        return
    place = Place(root)
    lock = place.locks[1 if argv[1:2] == ["test"] else 0]
    try:
        if not is_ready(place, lock):
            make(place, lock)
        elif place.runs_us():
            os.environ.pop(ENTERED, None)
            return
        _start_again(place, argv)
    except SetupRefused as refused:
        say(str(refused))
    except OSError as error:
        say(
            f"Can't write {error.filename or place.venv} ({error.strerror}): make {root} writable for this user."
        )
    except KeyboardInterrupt:
        say("Setup was interrupted: start again and it begins anew.")
        sys.exit(130)
    sys.exit(2)


def _start_again(place: Place, argv: Sequence[str]) -> None:
    tries = os.environ.get(ENTERED, "").split(os.pathsep).count(str(place.venv))
    if tries > 1:
        raise SetupRefused(
            f"{place.python} doesn't start inside {place.venv}: remove that folder and start again."
        )
    os.environ[ENTERED] = os.pathsep.join([str(place.venv)] * (tries + 1))
    sys.stdout.flush()
    os.execv(place.python, [str(place.python), str(place.root / "manage.py"), *argv[1:]])
