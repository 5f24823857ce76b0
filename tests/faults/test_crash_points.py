"""A worker killed between any two steps of a sending loses nothing; at worst one more copy of the same mail leaves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
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


def crash(point: str, folder: Path) -> None:
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
        "FAULTS_DATABASE": str(connection.settings_dict["NAME"]),
        "FAULTS_LEASE_SECONDS": "120",
        "FAULTS_SMTP_SECONDS": "20",
        "SMTP_URL": str(settings.SMTP_URL),
        "DATA_DIR": str(folder),
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


@pytest.mark.slow
@pytest.mark.parametrize(("point", "copies"), [("after-claim", 1), ("before-dot", 1), ("after-dot", 2)])
def test_a_sender_killed_loses_nothing_and_another_takes_over(
    point: str, copies: int, real_transactions: None, settings: Settings, tmp_path: Path
) -> None:
    now = timezone.now()
    notice = make_notice(make_site("hillside"), now, now)
    with mail_server() as server:
        settings.SMTP_URL = f"smtp://127.0.0.1:{server.port}"
        crash(point, tmp_path)
        notice.refresh_from_db()
        assert notice.state == State.CLAIMED and notice.lease_until is not None
        assert send_due(clock=lambda: notice.lease_until - timedelta(seconds=1)) == 0  # type: ignore[operator]
        assert send_due(clock=lambda: timezone.now() + LEASE) == 1
        assert [mail["Message-ID"] for mail in server.taken] == [notice.message_id] * copies
    notice.refresh_from_db()
    assert (notice.state, notice.attempts) == (State.SENT, 2)
    assert Notice.objects.count() == 1
    assert notice.events.filter(why="lease lapsed, taken over").count() == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("point", "copies"),
    [("gathered", 1), ("gathered-after-claim", 1), ("gathered-before-dot", 1), ("gathered-after-dot", 2)],
)
def test_a_sender_killed_over_one_mail_for_several_loses_none_of_them(
    point: str, copies: int, real_transactions: None, settings: Settings, tmp_path: Path
) -> None:
    now, site = timezone.now(), make_site("hillside")
    rows = [make_notice(site, now, now, kind="day-of", reference=f"C{number}") for number in range(4)]
    with mail_server() as server:
        settings.SMTP_URL = f"smtp://127.0.0.1:{server.port}"
        crash(point, tmp_path)
        assert {row.state for row in Notice.objects.exclude(kind="digest")} == {State.GATHERED}
        digest = Notice.objects.get(kind="digest")
        assert send_due(clock=lambda: timezone.now() + LEASE) == 1
        assert [mail["Message-ID"] for mail in server.taken] == [digest.message_id] * copies
        text = str(server.taken[-1].get_body(("plain",)).get_content())  # type: ignore[union-attr]
        assert all(row.reference in text for row in rows)
        assert send_due(clock=lambda: timezone.now() + 2 * LEASE) == 0
    assert {row.state for row in Notice.objects.all()} == {State.SENT}
    assert Notice.objects.count() == 5 and Notice.objects.filter(digest=digest).count() == 4
