"""The fault scripts in their short form, each in a process and a database of its own; see DEVELOPERS.md for the long ones."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.faults.stage import CHECKOUT


def run(module: str, *arguments: str) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", module, *arguments], cwd=CHECKOUT, capture_output=True, text=True, timeout=170
    )
    said = ended.stdout + ended.stderr
    assert ended.returncode == 0, said[-4000:]
    assert said.rstrip().endswith("kept")


@pytest.mark.slow
def test_forced_races_leave_nobody_uncleared_on_a_roster() -> None:
    run("tests.faults.roster_races", "--rounds", "60")


@pytest.mark.slow
def test_kills_floods_and_a_rude_mail_server_lose_no_notice() -> None:
    # The folder broker and SQLite share the two cores with six processes: half the notices there.
    notices = "200" if os.environ.get("DATABASE_URL") else "100"
    run("tests.faults.outbox_faults", "--notices", notices, "--span", "10")
