"""The steps that make .venv and fill it from a lock with hashes. Standard library only."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from .place import Place, SetupRefused

STILL_AT_IT_SECONDS = 10

# What an installer prints, and what it means to the reader; the first that fits is shown.
MEANINGS = (
    (
        ("hash mismatch", "not match the hashes"),
        "a package differs from its hash in the lock and was refused: check the package index you use.",
    ),
    (("no space left",), "the disk is full: make room and start again."),
    (
        (
            "dns error",
            "name resolution",
            "connection",
            "connect error",
            "unreachable",
            "timed out",
            "certificate",
            "proxy",
        ),
        "the package index can't be reached: connect this machine to the network, or set its proxy or index, and start again.",
    ),
    (
        ("no matching distribution", "no solution", "not find a version"),
        "a package doesn't fit this Python: start with Python 3.11, 3.12 or 3.13.",
    ),
)


def say(text: str) -> None:
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def working_uv(place: Place) -> str | None:
    """A uv that really starts (a version manager's stand-in may not), or None."""
    for name in (shutil.which("uv"), str(place.venv / "bin" / "uv")):
        if name and Path(name).exists():
            answer = subprocess.run([name, "--version"], capture_output=True, stdin=subprocess.DEVNULL)
            if answer.returncode == 0:
                return name
    return None


def _step(place: Place, lock_descriptor: int, saying: str, command: Sequence[str | Path]) -> bool:
    """Run one installer command, its output to the log; a line every few seconds shows that it is alive."""
    drop = ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV", "PIP_USER", "PIP_TARGET", "PIP_PREFIX")
    environment = {name: value for name, value in os.environ.items() if name not in drop}
    environment |= {"UV_PYTHON_DOWNLOADS": "never", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INPUT": "1"}
    say(saying)
    began = time.monotonic()
    with place.log.open("ab") as log:
        process = subprocess.Popen(
            list(map(str, command)),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            cwd=place.root,
            env=environment,
            pass_fds=(lock_descriptor,),
        )
        try:
            while True:
                try:
                    return process.wait(STILL_AT_IT_SECONDS) == 0
                except subprocess.TimeoutExpired:
                    say(f"  still at it after {time.monotonic() - began:.0f} s")
        except BaseException:
            process.kill()
            process.wait()
            raise


def has_pip(place: Place) -> bool:
    return subprocess.run([place.python, "-I", "-m", "pip", "--version"], capture_output=True).returncode == 0


def clear(place: Place) -> None:
    if place.venv.is_symlink() or place.venv.is_file():
        place.venv.unlink()
    elif place.venv.exists():
        shutil.rmtree(place.venv)
    place.venv.mkdir()
    place.begun.touch()


def _base_python() -> str:
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def fill(place: Place, held: int, lock: Path) -> bool:
    """Install `lock` into a .venv that has a Python: by uv if any, else by pip; hashes are always checked."""
    python, wanted = str(place.python), ("-r", str(lock), "--require-hashes")
    uv = working_uv(place)
    saying = "Installing the packages of the lock with "
    if uv and _step(place, held, saying + "uv.", [uv, "pip", "install", "--python", python, *wanted]):
        return True
    pip = [python, "-I", "-m", "pip"]
    if not has_pip(place) and not _step(place, held, "Adding pip.", [python, "-I", "-m", "ensurepip"]):
        return False
    return _step(place, held, saying + "pip; about a minute.", [*pip, "install", "--retries", "2", *wanted])


def create(place: Place, held: int) -> None:
    """Make an empty .venv; raises SetupRefused when this Python can't."""
    clear(place)
    python, uv = _base_python(), working_uv(place)
    saying = f"Making .venv for Three-Fifteen with Python {sys.version.split()[0]}."
    if uv and _step(place, held, saying, [uv, "venv", "--allow-existing", "--python", python, place.venv]):
        return
    for module in ("venv", "ensurepip"):
        if importlib.util.find_spec(module) is None:
            raise SetupRefused(
                f"This Python has no module {module}, which makes the environment: install it (on Debian and "
                "Ubuntu `apt-get install python3-venv`) or put uv on the PATH, and start again."
            )
    if not _step(place, held, saying, [python, "-m", "venv", place.venv]):
        raise SetupRefused(explain(place, ".venv could not be made"))


def explain(place: Place, what: str) -> str:
    output = place.log.read_text(errors="replace")
    last = output[-4000:].lower()
    for signs, meaning in MEANINGS:
        if any(sign in last for sign in signs):
            return f"{what}: {meaning} (Details: {place.log})"
    return f"{what}: read {place.log}, put right what it names, and start again."
