"""manage.py makes its own environment: once, alone, again when cut short, and says plainly what it lacks."""

from __future__ import annotations

import ast
import fcntl
import importlib.util
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest

from config import bootstrap
from config.bootstrap import install
from config.bootstrap.place import Place, SetupRefused, is_ready
from tests.config.processes import CHECKOUT, python, wait_for

# Stands for uv: makes a real, empty environment and writes down how it was called.
STAND_IN = f"""#!/bin/sh
echo "$1 $2" >> "$CALLS"
case "$1" in
venv) for last; do :; done; exec {sys.executable} -m venv --without-pip "$last" ;;
pip) sleep "${{SLOW:-0}}"; echo "ended" >> "$CALLS"; echo "$COMPLAINT"; test -z "$COMPLAINT" ;;
esac
"""
MAKE = """
import sys
from pathlib import Path
from config import bootstrap
place = bootstrap.Place(Path(sys.argv[1]))
bootstrap.make(place, place.locks[0])
"""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Place:
    """A checkout with two locks and nothing else, and the stand-in first on the PATH."""
    root, tools = tmp_path / "checkout", tmp_path / "tools"
    root.mkdir()
    tools.mkdir()
    (root / "requirements.lock").write_text("django==5.2\n")
    (root / "requirements-dev.lock").write_text("django==5.2\npytest==9\n")
    (tools / "uv").write_text(STAND_IN)
    (tools / "uv").chmod(0o755)
    monkeypatch.setenv("PATH", f"{tools}:{os.environ['PATH']}")
    monkeypatch.setenv("CALLS", str(tmp_path / "calls"))
    monkeypatch.delenv(bootstrap.STAY_OUT, raising=False)
    monkeypatch.delenv(bootstrap.ENTERED, raising=False)
    return Place(root)


def calls(place: Place) -> list[str]:
    written = place.root.parent / "calls"
    lines = written.read_text().splitlines() if written.exists() else []
    return [line.strip() for line in lines if not line.startswith("--version")]


ONCE = ["venv --allow-existing", "pip install", "ended"]


def test_the_second_start_installs_nothing(place: Place) -> None:
    bootstrap.make(place, place.locks[0])
    assert is_ready(place, place.locks[0])
    bootstrap.make(place, place.locks[0])
    assert calls(place) == ONCE


def test_a_changed_lock_is_installed_into_the_same_environment(place: Place) -> None:
    bootstrap.make(place, place.locks[0])
    (place.venv / "kept").touch()
    place.locks[0].write_text("django==5.2.1\n")
    assert not is_ready(place, place.locks[0])
    bootstrap.make(place, place.locks[0])
    assert (place.venv / "kept").exists()
    assert calls(place) == [*ONCE, "pip install", "ended"]


def test_the_lock_of_the_tests_holds_the_other_one_but_not_the_reverse(place: Place) -> None:
    bootstrap.make(place, place.locks[0])
    assert not is_ready(place, place.locks[1])
    bootstrap.make(place, place.locks[1])
    assert is_ready(place, place.locks[0])
    assert is_ready(place, place.locks[1])


def test_a_setup_that_was_cut_short_is_begun_anew(place: Place) -> None:
    bootstrap.make(place, place.locks[0])
    place.begun.touch()
    (place.venv / "half a package").touch()
    assert not is_ready(place, place.locks[0])
    bootstrap.make(place, place.locks[0])
    assert is_ready(place, place.locks[0])
    assert not (place.venv / "half a package").exists()


@pytest.mark.parametrize("damage", ["folder of another Python", "no Python", "empty folder"])
def test_an_environment_that_does_not_work_is_made_anew(place: Place, damage: str) -> None:
    bootstrap.make(place, place.locks[0])
    if damage == "no Python":
        place.python.unlink()
    elif damage == "empty folder":
        install.clear(place)
        place.begun.unlink()
    else:
        packages = next((place.venv / "lib").glob("python3*"))
        packages.rename(packages.with_name("python3.10"))
    assert not is_ready(place, place.locks[0])
    bootstrap.make(place, place.locks[0])
    assert is_ready(place, place.locks[0])
    assert calls(place) == [*ONCE, *ONCE]


def test_an_environment_somebody_made_by_hand_is_filled_and_not_removed(place: Place) -> None:
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", place.venv], check=True)
    (place.venv / "mine").touch()
    bootstrap.make(place, place.locks[0])
    assert (place.venv / "mine").exists()
    assert calls(place) == ["pip install", "ended"]


def test_two_starts_at_once_set_up_only_once(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SLOW", "0.5")
    both = [python(MAKE, str(place.root), stderr=subprocess.PIPE) for _ in range(2)]
    said = "".join(process.communicate(timeout=30)[1] for process in both)
    assert [process.returncode for process in both] == [0, 0]
    assert "waiting for it" in said
    assert calls(place) == ONCE


def test_an_installer_left_behind_by_a_killed_start_is_waited_for(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SLOW", "1")
    killed = python(MAKE, str(place.root), stderr=subprocess.DEVNULL)
    wait_for(lambda: "pip install" in calls(place), seconds=10, what="installing")
    killed.send_signal(signal.SIGKILL)
    killed.wait(5)
    with (place.root / ".venv.lock").open() as lock, pytest.raises(BlockingIOError):
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    bootstrap.make(place, place.locks[0])
    assert calls(place) == [*ONCE, *ONCE]


def test_the_start_goes_on_inside_the_environment_as_the_same_process(place: Place) -> None:
    (place.root / "manage.py").write_text("import os, sys; print(os.getpid(), sys.prefix, *sys.argv[1:])")
    code = "import sys; from pathlib import Path; from config import bootstrap\nbootstrap.enter(sys.argv[1:], root=Path(sys.argv[1]))"
    process = python(
        code, str(place.root), "up", "--no-demo", stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    said = process.communicate(timeout=30)[0].split()
    assert said == [str(process.pid), str(place.venv), "up", "--no-demo"]


def test_a_python_that_never_gets_inside_is_named_and_not_tried_for_ever(
    place: Place, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bootstrap.make(place, place.locks[0])
    tried: list[Any] = []
    monkeypatch.setattr(os, "execv", lambda *arguments: tried.append(arguments))
    for _ in range(4):
        with pytest.raises(SystemExit) as ended:
            bootstrap.enter(["manage.py", "up"], root=place.root)
        assert ended.value.code == 2
    assert len(tried) == 2
    assert "doesn't start inside" in capsys.readouterr().err


def test_nothing_is_made_for_a_caller_who_brings_an_environment(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(bootstrap.STAY_OUT, "1")
    bootstrap.enter(["manage.py", "up"], root=place.root)
    assert not place.venv.exists()


def refusal(place: Place, capsys: pytest.CaptureFixture[str]) -> str:
    """What `up` says on this checkout when it refuses: one line after the lines of progress."""
    capsys.readouterr()
    with pytest.raises(SystemExit) as ended:
        bootstrap.enter(["manage.py", "up"], root=place.root)
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said
    return said.splitlines()[-1]


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_a_python_without_its_environment_module_says_what_to_install(
    place: Place, module: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(install, "working_uv", lambda _: None)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == module else find(name))
    assert "apt-get install python3-venv" in refusal(place, capsys)


# The words of uv 0.13 and pip: an index out of reach and a wrong hash were provoked, the full disk is from memory.
@pytest.mark.parametrize(
    ("complaint", "advice"),
    [
        (
            "error: Request failed after 3 retries\n  Caused by: dns error",
            "connect this machine to the network",
        ),
        ("Failed to establish a new connection: [Errno 101] Network is unreachable", "connect this machine"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE", "differs from its hash"),
        ("error: Hash mismatch for `django==5.2`", "differs from its hash"),
        ("OSError: [Errno 28] No space left on device", "the disk is full"),
        ("ERROR: No matching distribution found for django==5.2", "Python 3.11, 3.12 or 3.13"),
        ("something nobody foresaw", "setup.log"),
    ],
)
def test_an_installer_that_fails_is_explained_in_a_sentence(
    place: Place,
    complaint: str,
    advice: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("COMPLAINT", complaint)
    monkeypatch.setattr(install, "has_pip", lambda _: True)  # which then fails: the environment has none
    assert advice in refusal(place, capsys)
    assert not is_ready(place, place.locks[0])


def test_a_folder_that_can_not_be_written_is_named(
    place: Place, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuse(path: Path, *_: object) -> NoReturn:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(os, "open", refuse)
    assert f"make {place.root} writable" in refusal(place, capsys)


def test_a_checkout_without_its_lock_is_named(place: Place) -> None:
    place.locks[0].unlink()
    with pytest.raises(SetupRefused, match="requirements.lock is missing"):
        bootstrap.make(place, place.locks[0])


def test_an_old_python_reads_manage_py_and_says_what_it_needs() -> None:
    source = (CHECKOUT / "manage.py").read_text()
    ast.parse(source, feature_version=(3, 4))
    assert not any(isinstance(node, ast.JoinedStr | ast.AnnAssign) for node in ast.walk(ast.parse(source)))
    code = "import sys, runpy; sys.version_info = (3, 9, 2); runpy.run_path('manage.py', run_name='__main__')"
    process = python(code, stderr=subprocess.PIPE)
    said = process.communicate(timeout=30)[1]
    assert process.returncode == 2
    assert "needs Python 3.11 or newer and this is 3.9" in said
    assert "Traceback" not in said


def test_the_bootstrap_imports_nothing_that_must_be_installed_first() -> None:
    for path in (CHECKOUT / "config" / "bootstrap").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [str(node.module)]
            assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names
