"""No process outlives the launcher, however it ends. Real processes, real kill -9."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.launch import keeper
from config.launch.children import MOST_RESTARTS, Family
from config.launch.refusal import LaunchRefused
from tests.config.processes import descendants, python, running, wait_for

pytestmark = pytest.mark.slow

# A launcher with two children, each with a child of its own.
LAUNCHER = """
import os, sys, time
from pathlib import Path
from config.launch.children import Family
logs = Path(sys.argv[1])
family = Family(folder=logs, logs=logs, environment=os.environ)
held = os.open(logs / "lock", os.O_RDWR | os.O_CREAT)
family.start_keeper(held=held)
for name in ("one", "two"):
    family.add(name, ["-c", "import subprocess; subprocess.run(['sleep', '600'])"])
print("started", flush=True)
time.sleep(600)
"""


@pytest.fixture
def family(tmp_path: Path) -> Iterator[Family]:
    family = Family(folder=tmp_path, logs=tmp_path, environment=os.environ)
    with (tmp_path / "lock").open("w") as lock:
        family.start_keeper(held=lock.fileno())
        yield family
    family.end()


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGHUP])
def test_children_and_grandchildren_end_when_the_launcher_is_killed(
    tmp_path: Path, sign: signal.Signals
) -> None:
    launcher = python(LAUNCHER, str(tmp_path), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert launcher.stdout and launcher.stdout.readline() == "started\n"
    wait_for(
        lambda: len(descendants(launcher.pid)) == 5,
        seconds=10,
        what="keeper, two children, two grandchildren",
    )
    below = descendants(launcher.pid)
    launcher.send_signal(sign)
    launcher.wait(10)
    wait_for(lambda: not running(below), seconds=10, what="everything below the launcher gone")


def test_a_launcher_killed_while_it_starts_children_leaves_nobody(tmp_path: Path) -> None:
    for moment in (0.06, 0.1):
        (tmp_path / str(moment)).mkdir()
        mark = f"{tmp_path}/{moment}"
        launcher = python(LAUNCHER, mark, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(moment)
        below = descendants(launcher.pid)
        launcher.kill()
        launcher.wait(10)
        below |= _processes_in(Path(mark))
        wait_for(lambda below=below: not running(below), seconds=10, what="nobody left")  # type: ignore[misc]
        assert not _processes_in(Path(mark))


def _processes_in(folder: Path) -> set[int]:
    """Processes whose working folder is `folder`, where the system shows it (Linux)."""
    found = set()
    for link in Path("/proc").glob("[0-9]*/cwd"):
        try:
            if link.readlink() == folder:
                found.add(int(link.parent.name))
        except OSError:
            continue  # ended between the listing and the look, or another user's
    return found


def test_a_process_that_ignores_the_polite_signal_is_killed_after_the_grace() -> None:
    code = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(600)"
    deaf = python(code, stdout=subprocess.PIPE, start_new_session=True)
    assert deaf.stdout and deaf.stdout.readline() == "deaf\n"
    keeper.end_groups([deaf.pid], grace=0.3, meanwhile=deaf.poll)
    assert deaf.wait(1) == -signal.SIGKILL


def test_a_group_taken_off_the_list_is_left_alone() -> None:
    assert keeper.read_groups([b"+10\n", b"+11\n", b"-10\n"]) == {11}


def test_children_end_when_the_keeper_itself_is_killed_first(family: Family) -> None:
    family.add("one", ["-c", "import time; time.sleep(600)"])
    child, guardian = family.children[0].process, family.keeper
    assert child and guardian
    guardian.kill()
    guardian.wait(5)
    with pytest.raises(LaunchRefused, match="keeper was stopped from outside"):
        family.look(now=0.0, may_restart=True)
    family.end()
    assert child.returncode is not None


def test_a_child_that_ends_is_started_again_three_times_and_then_all_stops(family: Family) -> None:
    family.add("beat", ["-c", "print('last words'); raise SystemExit(3)"])
    now, said = 0.0, []
    with pytest.raises(LaunchRefused, match="(?s)last words.*beat ended by itself .exit code 3"):
        for _ in range(MOST_RESTARTS + 1):
            process = family.children[0].process
            assert process
            process.wait(10)
            said += family.look(now=now, may_restart=True)
            now += 60.0
            family.look(now=now, may_restart=True)
    assert len(said) == MOST_RESTARTS
    assert "beat   | last words" in said[0]


def test_a_child_that_ends_before_everything_is_ready_stops_the_start(family: Family) -> None:
    family.add("web", ["-c", "raise SystemExit('no such module')"])
    process = family.children[0].process
    assert process
    process.wait(10)
    with pytest.raises(LaunchRefused, match="(?s)no such module.*web ended by itself"):
        family.look(now=0.0, may_restart=False)


def test_the_keeper_needs_nothing_but_the_standard_library() -> None:
    command = [sys.executable, "-I", "-S", keeper.__file__]
    assert subprocess.run(command, stdin=subprocess.DEVNULL, timeout=10).returncode == 0
