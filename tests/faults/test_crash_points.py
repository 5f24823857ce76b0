"""A worker killed between any two steps of a sending loses nothing; at worst one more copy of the same mail leaves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.utils import timezone
from pytest_django import Settings

from safety.models import Notice
from safety.outbox.states import LEASE, State
from safety.services.sending import send_due
from tests.factories import make_site
from tests.faults.stage import CHECKOUT
from tests.safety.outbox.mailserver import mail_server
from tests.safety.outbox.samples import make_notice


@pytest.mark.slow
@pytest.mark.parametrize(("point", "copies"), [("after-claim", 1), ("before-dot", 1), ("after-dot", 2)])
def test_a_sender_killed_loses_nothing_and_another_takes_over(
    point: str, copies: int, real_transactions: None, settings: Settings, tmp_path: Path
) -> None:
    now = timezone.now()
    notice = make_notice(make_site("hillside"), now, now)
    with mail_server() as server:
        settings.SMTP_URL = f"smtp://127.0.0.1:{server.port}"
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
            "FAULTS_DATABASE": str(connection.settings_dict["NAME"]),
            "FAULTS_LEASE_SECONDS": "120",
            "FAULTS_SMTP_SECONDS": "20",
            "SMTP_URL": settings.SMTP_URL,
            "DATA_DIR": str(tmp_path),
        }
        dead = subprocess.run(
            [sys.executable, "-m", "tests.faults.crash", point],
            cwd=CHECKOUT,
            env=environment,
            capture_output=True,
            text=True,
            timeout=90,
        )
        assert dead.returncode == -signal.SIGKILL, dead.stderr[-800:]
        notice.refresh_from_db()
        assert notice.state == State.CLAIMED and notice.lease_until is not None
        assert send_due(clock=lambda: notice.lease_until - timedelta(seconds=1)) == 0  # type: ignore[operator]
        assert send_due(clock=lambda: timezone.now() + LEASE) == 1
        assert [mail["Message-ID"] for mail in server.taken] == [notice.message_id] * copies
    notice.refresh_from_db()
    assert (notice.state, notice.attempts) == (State.SENT, 2)
    assert Notice.objects.count() == 1
    assert notice.events.filter(why="lease lapsed, taken over").count() == 1
