"""A small process that outlives the launcher for a moment and takes every child down with it.

It is started first, in a session of its own, and reads the only pipe that the launcher keeps open.
Each child writes `+GROUP` into that pipe itself, before it becomes what it is to run, so no child can
be unknown here. However the launcher ends, kill -9 included, the pipe closes: then every group gets
SIGTERM, and after the grace SIGKILL. A normal stop is the same: the launcher closes the pipe.
Standard library only: it is run by its path, without site-packages.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterable

GRACE_SECONDS = 8.0


def signal_group(group: int, sign: int) -> bool:
    """Send `sign` (0: only look) to a group; False when nothing of it is left.

    A process that ended counts until its parent has waited for it.
    """
    try:
        os.killpg(group, sign)
    except (ProcessLookupError, PermissionError):
        # macOS answers "not permitted" for a group in which only ended processes are left.
        return False
    return True


def end_groups(
    groups: Iterable[int], *, grace: float = GRACE_SECONDS, meanwhile: Callable[[], object] = lambda: None
) -> None:
    """SIGTERM to each group, SIGKILL to what is left after `grace` seconds; returns when all are gone.

    `meanwhile` is called between looks: the parent of the processes waits for them there.
    """
    left = set(groups)
    for sign, seconds in ((signal.SIGTERM, grace), (signal.SIGKILL, 2.0)):
        left = {group for group in left if signal_group(group, sign)}
        deadline = time.monotonic() + seconds
        while left and time.monotonic() < deadline:
            time.sleep(0.02)
            meanwhile()
            left = {group for group in left if signal_group(group, 0)}


def read_groups(lines: Iterable[bytes]) -> set[int]:
    """The groups that are to be ended once the pipe is closed: those added and not taken off again."""
    groups: set[int] = set()
    for line in lines:
        number = int(line[1:])
        groups.add(number) if line.startswith(b"+") else groups.discard(number)
    return groups


def main() -> None:
    for sign in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(sign, signal.SIG_IGN)
    end_groups(read_groups(sys.stdin.buffer))


if __name__ == "__main__":
    main()
