"""Looking at, waiting for and starting real processes in the tests of the launcher."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent.parent


def is_running(pid: int) -> bool:
    """False for a process that is gone or that only waits to be collected by its parent."""
    state = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True
    ).stdout.strip()
    return bool(state) and not state.startswith("Z")


def running(pids: Iterable[int]) -> set[int]:
    return {pid for pid in pids if is_running(pid)}


def descendants(pid: int) -> set[int]:
    """Every process below `pid`, as the process table shows it now."""
    table = subprocess.run(
        ["ps", "-A", "-o", "pid=,ppid="], capture_output=True, text=True, check=True
    ).stdout
    pairs = [tuple(map(int, line.split())) for line in table.splitlines()]
    found: set[int] = set()
    while more := {child for child, parent in pairs if parent in found | {pid}} - found:
        found |= more
    return found


def wait_for(condition: Callable[[], object], *, seconds: float, what: str) -> None:
    """Return as soon as `condition` holds; fails the test after `seconds`."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, f"after {seconds} s, still not: {what}"
        time.sleep(0.05)


def python(code: str, *arguments: str, **options: object) -> subprocess.Popen[str]:
    """Start `code` in this interpreter from the top of the checkout."""
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.Popen(command, cwd=CHECKOUT, text=True, **options)  # type: ignore[call-overload,no-any-return]
