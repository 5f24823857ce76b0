"""`manage.py up` as a person starts and stops it: real processes in a temporary data folder, on a free port."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connections

from config.launch import prepare
from config.launch.refusal import LaunchRefused
from staff.models import Site
from tests import needs
from tests.launching import Launch, free_port, own_database


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def launches() -> Iterator[list[Launch]]:
    """Launches to be ended even when a test fails."""
    started: list[Launch] = []
    yield started
    for launch in started:
        if launch.process.poll() is None:
            launch.end(signal.SIGTERM)


def refused(data_dir: Path, port: int, **environment: str) -> str:
    launch = Launch(data_dir, port, **environment)
    said = launch.process.communicate(timeout=30)[0]
    assert launch.process.returncode in {1, 2}, said
    assert "Traceback" not in said
    return said


@pytest.mark.slow
def test_one_command_starts_everything_survives_kill_9_with_its_data_and_leaves_nobody(
    tmp_path: Path, port: int, launches: list[Launch]
) -> None:
    data = tmp_path / "data"
    launches.append(first := Launch(data, port))
    said = first.until_ready()
    assert f"http://127.0.0.1:{port}/" in said
    assert "Demo loaded" in said
    assert re.search(r"Demo accounts.*\n +\S+  \S+", said)
    assert first.health() == 200
    assert data.stat().st_mode & 0o077 == 0
    check_that_others_are_refused(first, data)
    kept = [(data / "secret_key").read_text(), sites_in(data)]
    _, killed = first.end(signal.SIGKILL)
    assert len(killed) >= 7  # launcher, keeper, web with two workers, worker, beat

    launches.append(second := Launch(data, port))
    said = second.until_ready()
    assert "Demo loaded" not in said
    assert "Demo accounts" in said
    assert kept[1]
    assert [(data / "secret_key").read_text(), sites_in(data)] == kept
    code, stopped = second.end(signal.SIGINT)
    assert code == 0
    assert len(stopped) >= 7


def check_that_others_are_refused(running: Launch, data: Path) -> None:
    assert f"already running on {data} (process {running.process.pid})" in refused(data, running.port)
    taken = refused(data.parent / "other", running.port)
    assert f"Port {running.port} can't be used" in taken
    assert f"PORT={running.port + 1} python3 manage.py up" in taken


def sites_in(data_dir: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(data_dir / "three-fifteen.sqlite3")) as database:
        return database.execute("SELECT id, name FROM staff_site ORDER BY id").fetchall()


@pytest.mark.slow
@needs.postgres()
@needs.redis()
def test_the_same_command_runs_on_postgresql_and_redis(
    tmp_path: Path, port: int, launches: list[Launch]
) -> None:
    with own_database("up") as url:
        launch = Launch(
            tmp_path / "data", port, DATABASE_URL=url, REDIS_URL=os.environ["REDIS_URL"], DEMO="1"
        )
        launches.append(launch)
        launch.until_ready()
        assert launch.health() == 200
        assert launch.end(signal.SIGTERM)[0] == 0


@pytest.mark.django_db
def test_a_demo_that_fails_halfway_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def half(*_: object, **__: object) -> None:
        Site.objects.create(name="Half a demo")
        raise RuntimeError("cut short")

    monkeypatch.setattr(prepare, "call_command", half)
    monkeypatch.setattr(connections, "close_all", lambda: None)
    with pytest.raises(RuntimeError):
        prepare.load_demo_once()
    assert not Site.objects.exists()


def test_a_wrong_setting_is_named_with_its_remedy(tmp_path: Path) -> None:
    assert "PORT: " in refused(tmp_path / "data", 0)
    assert not (tmp_path / "data").exists()


def test_a_database_out_of_reach_is_said_in_a_sentence(tmp_path: Path, port: int) -> None:
    said = refused(tmp_path / "data", port, DATABASE_URL="postgres://nobody@127.0.0.1:1/nothing", DEMO="1")
    assert "The database can't be used" in said
    assert "DATABASE_URL" in said


def test_a_data_folder_that_can_not_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(LaunchRefused, match="can't be written.*DATA_DIR="):
        prepare.claim_folder(tmp_path / "file" / "data", say=print)


def test_a_run_that_was_killed_and_is_still_ending_is_waited_for(tmp_path: Path) -> None:
    said: list[str] = []
    first = prepare.claim_folder(tmp_path, say=said.append)
    os.ftruncate(first, 0)
    ended = subprocess.Popen(["true"])
    ended.wait()
    os.pwrite(first, str(ended.pid).encode(), 0)

    def last_process_ends(text: str) -> None:
        said.append(text)
        os.close(first)

    os.close(prepare.claim_folder(tmp_path, say=last_process_ends))
    assert said == ["The run before this one is still ending; waiting for it."]


@pytest.mark.parametrize(("port", "other"), [(65535, 8000), (8000, 8001)])
def test_the_port_suggested_instead_is_a_possible_one(
    port: int, other: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken(*_: object) -> None:
        raise OSError(98, "Address already in use")

    monkeypatch.setattr(socket.socket, "bind", taken)
    with pytest.raises(LaunchRefused, match=f"Port {port} .*PORT={other} "):
        prepare.check_port(port)
