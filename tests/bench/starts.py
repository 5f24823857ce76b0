"""How long `manage.py up` takes to be ready: the first start in an empty data folder, then later ones.

    python3 -m tests.bench.starts [later starts, default 3]

Beside each figure: how busy the machine was with other work just before (where /proc/stat shows it), and
the processor time that the start and its stop took themselves, which other work hardly changes.
Exits with 1 when the median of the later starts is over the promise.
"""

from __future__ import annotations

import os
import resource
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from config.env import CHECKOUT

PROMISED_SECONDS = 10.0


def ticks() -> tuple[int, int]:
    """Idle and all processor ticks of the machine since boot; zeros where the system does not show them."""
    table = Path("/proc/stat")
    if not table.exists():
        return 0, 0
    numbers = [int(word) for word in table.read_text().splitlines()[0].split()[1:9]]
    return numbers[3] + numbers[4], sum(numbers)


def busy_before() -> float:
    """The share of the machine that other work takes, over two seconds."""
    idle, total = ticks()
    time.sleep(2)
    idle_after, total_after = ticks()
    return 1 - (idle_after - idle) / (total_after - total) if total_after > total else 0.0


def own_seconds() -> float:
    """Processor time of every process that was started here and has ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def one_start(environment: dict[str, str]) -> tuple[float, float, float]:
    """Seconds until the greeting is complete, other work before it (a share), own processor seconds."""
    others, own = busy_before(), own_seconds()
    began = time.monotonic()
    command = [sys.executable, "manage.py", "up"]
    with subprocess.Popen(
        command, cwd=CHECKOUT, env=environment, stdout=subprocess.PIPE, text=True
    ) as launcher:
        assert launcher.stdout
        ready = any("clinicians decide" in line for line in launcher.stdout)
        seconds = time.monotonic() - began
        launcher.send_signal(signal.SIGINT)
        launcher.communicate(timeout=60)
    if not ready or launcher.returncode != 0:
        raise SystemExit(f"`up` was not ready or did not stop well (exit code {launcher.returncode}).")
    return seconds, others, own_seconds() - own


def main() -> int:
    later = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
    with tempfile.TemporaryDirectory(prefix="three-fifteen-starts-") as folder:
        environment = kept | {"DATA_DIR": folder, "PORT": str(port), "THREE_FIFTEEN_NO_BOOTSTRAP": "1"}
        figures = [one_start(environment) for _ in range(1 + later)]
    for number, (seconds, others, own) in enumerate(figures, start=1):
        said = f"ready after {seconds:.1f} s, own processor time {own:.1f} s, other work before {others:.0%}"
        sys.stdout.write(f"start {number}: {said}\n")
    median = statistics.median(figure[0] for figure in figures[1:])
    sys.stdout.write(f"later starts: median {median:.1f} s, promised {PROMISED_SECONDS:.0f} s\n")
    return 0 if median <= PROMISED_SECONDS else 1


if __name__ == "__main__":
    sys.exit(main())
