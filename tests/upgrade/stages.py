"""Running a checkout against one database, whichever engine, as its own process."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg

# The last migrations of the old commit: backwards to these and forwards again.
OLD_ENDS = (("safety", "0019_crews_that_left"), ("staff", "0020_crew_left_at"))


def made_anew(address: str) -> None:
    """An empty database under this address; one that is there goes."""
    name = urlsplit(address).path.removeprefix("/")
    desk = urlunsplit(urlsplit(address)._replace(path="/postgres"))
    with psycopg.connect(desk, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')  # type: ignore[arg-type]
        connection.execute(f'CREATE DATABASE "{name}"')  # type: ignore[arg-type]


@dataclass(frozen=True)
class Checkout:
    """`data` is DATA_DIR, `postgres` the address of the database or empty for the SQLite file in it."""

    root: Path
    data: Path
    postgres: str

    def _environment(self) -> dict[str, str]:
        kept = {
            name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}
        }
        kept |= {
            "DATA_DIR": str(self.data),
            "DEMO": "1",
            "THREE_FIFTEEN_NO_BOOTSTRAP": "1",
            "DJANGO_SETTINGS_MODULE": "config.settings",
        }
        return kept | ({"DATABASE_URL": self.postgres} if self.postgres else {})

    def _python(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *words],
            cwd=self.root,
            env=self._environment(),
            text=True,
            capture_output=True,
            check=False,
        )

    def manage(self, *words: str) -> None:
        _need(self._python("manage.py", *words))

    def run(self, script: Path) -> None:
        """A script inside this checkout, with Django set up."""
        text = f"import django; django.setup(); exec(compile(open({str(script)!r}).read(), {script.name!r}, 'exec'))"
        _need(self._python("-c", text))

    def faults(self, *words: str) -> list[str]:
        """What a command complains of; nothing when it ends well."""
        ended = self._python("manage.py", *words)
        return [] if ended.returncode == 0 else (ended.stdout + ended.stderr).strip().splitlines()[-20:]


def _need(ended: subprocess.CompletedProcess[str]) -> None:
    if ended.returncode != 0:
        raise RuntimeError(f"{ended.args[1:]} failed:\n{ended.stdout[-2000:]}\n{ended.stderr[-4000:]}")
