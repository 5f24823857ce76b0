"""The fault scripts in their short form, each in a process and a database of its own; see DEVELOPERS.md for the long ones."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests import needs
from tests.faults.servers import missing
from tests.faults.stage import CHECKOUT


def run(module: str, *arguments: str) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", module, *arguments], cwd=CHECKOUT, capture_output=True, text=True, timeout=480
    )
    said = ended.stdout + ended.stderr
    assert ended.returncode == 0, said[-4000:]
    assert said.rstrip().endswith("kept")


@pytest.mark.slow
def test_forced_races_leave_nobody_uncleared_on_a_roster() -> None:
    run("tests.faults.roster_races", "--rounds", "60")


@pytest.mark.slow
def test_kills_stops_floods_and_a_rude_mail_server_lose_no_notice() -> None:
    # Where there are programs for it, PostgreSQL and Redis are the run's own and stopped as well.
    own = ["--own"] if os.environ.get("DATABASE_URL") and not missing() else []
    run("tests.faults.outbox_faults", "--notices", "100", "--span", "10", *own)


@pytest.mark.slow
@needs.once()
def test_the_hour_of_a_notice_is_found_on_every_date_of_every_zone() -> None:
    run("tests.faults.every_zone", "--years", "2026", "2026", "--hours", "7", "7")


@pytest.mark.slow
@needs.once()
def test_a_stretch_of_a_programmes_life_agrees_with_its_recomputation() -> None:
    run("tests.faults.year", "--people", "12", "--incidents", "6", "--days", "15", "--after", "20")
