"""Where the environment of one checkout lives, and whether it is ready. Standard library only."""

from __future__ import annotations

import hashlib
import importlib.util
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

OLDEST = (3, 11)


class SetupRefused(Exception):
    """The environment can't be made; the text is one sentence that says what to do."""


@dataclass(frozen=True)
class Place:
    """Where the environment of one checkout lives."""

    root: Path

    @property
    def venv(self) -> Path:
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        return self.venv / "bin" / "python"

    @property
    def stamp(self) -> Path:
        """Written last: which locks are installed, for which Python."""
        return self.venv / "three-fifteen.stamp"

    @property
    def begun(self) -> Path:
        """Written first and removed last: its presence means that a setup was cut short."""
        return self.venv / "three-fifteen.begun"

    @property
    def log(self) -> Path:
        return self.venv / "setup.log"

    @property
    def locks(self) -> tuple[Path, Path]:
        """What running needs, and the same with what the tests need."""
        return self.root / "requirements.lock", self.root / "requirements-dev.lock"

    def runs_us(self) -> bool:
        return Path(sys.prefix).resolve() == self.venv.resolve()


def line_of(lock: Path) -> str:
    try:
        return f"{lock.name} {hashlib.sha256(lock.read_bytes()).hexdigest()}"
    except FileNotFoundError:
        raise SetupRefused(f"{lock.name} is missing: this checkout is not whole, fetch it again.") from None


def is_ready(place: Place, lock: Path) -> bool:
    """Whether `lock`, as it reads now, is installed in the environment, for the Python that it has now."""
    if place.begun.exists() or not place.stamp.exists() or not place.python.exists():
        return False
    lines = place.stamp.read_text().splitlines()
    if place.runs_us() and importlib.util.find_spec("django") is None:
        return False
    return f"python {version_of(place)}" in lines and line_of(lock) in lines


def version_of(place: Place) -> str | None:
    """`3.11` and the like when .venv has a Python that starts and finds its own packages, else None.

    A Python replaced by a newer one under a .venv leaves its packages in the folder of the old one.
    """
    version = f"{sys.version_info.major}.{sys.version_info.minor}" if place.runs_us() else _ask(place.python)
    if version is None or tuple(map(int, version.split("."))) < OLDEST:
        return None
    return version if (place.venv / "lib" / f"python{version}" / "site-packages").is_dir() else None


def _ask(python: Path) -> str | None:
    code = "import sys; print(sys.version_info[0], sys.version_info[1], sep='.')"
    try:
        answer = subprocess.run([python, "-I", "-S", "-c", code], capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return answer.stdout.strip() if answer.returncode == 0 else None
