"""A worker killed between any two steps of a sending loses nothing; at worst one more copy of the same mail leaves."""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.utils import timezone
from pytest_django import Settings

from safety.models import Notice
from safety.outbox.states import LEASE, State
from safety.services.notices.sending import send_due
from tests.factories import make_site
from tests.faults.stage import CHECKOUT
from tests.safety.outbox.mailserver import mail_server
from tests.safety.outbox.samples import make_due_today, make_notice

# For each point, in the order of a sending: the state in which the row is left, and how many copies leave in the
# end. The first point stands last here, for its row is the next one's again.
POINTS: dict[str, tuple[State, int]] = {
    "after-claim": (State.CLAIMED, 1),
    "after-still-true": (State.CLAIMED, 1),
    "after-building": (State.CLAIMED, 1),
    "after-connecting": (State.CLAIMED, 1),
    "after-sender": (State.CLAIMED, 1),
    "after-recipient": (State.CLAIMED, 1),
    "after-data": (State.CLAIMED, 1),
    "within-text": (State.CLAIMED, 1),
    "before-dot": (State.CLAIMED, 1),
    # From here the mail is the server's, and a sender that is dead can't say so (RFC 1047).
    "after-dot": (State.CLAIMED, 2),
    "after-answer": (State.CLAIMED, 2),
    "in-settling": (State.CLAIMED, 2),
    "after-settling": (State.SENT, 1),
    "in-claim": (State.WAITING, 1),
}


def crash(smtp_url: str, folder: Path, *points: str) -> None:
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
        "FAULTS_DATABASE": str(connection.settings_dict["NAME"]),
        "FAULTS_LEASE_SECONDS": str(LEASE.total_seconds()),
        "FAULTS_SMTP_SECONDS": "20",
        "SMTP_URL": smtp_url,
        "DATA_DIR": str(folder),
    }
    dead = subprocess.run(
        [sys.executable, "-m", "tests.faults.crash", *points],
        cwd=CHECKOUT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=90,
    )
    assert dead.returncode == 0, dead.stderr[-800:]


@pytest.mark.slow
def test_senders_killed_at_every_step_lose_nothing_and_others_take_over(
    real_transactions: None, settings: Settings, tmp_path: Path
) -> None:
    now, site = timezone.now(), make_site("hillside")
    for turn, point in enumerate(POINTS):
        due = now - timedelta(seconds=60 - turn)
        make_notice(site, due, now, key=point, email=f"reader-{turn}@example.org", message_id=f"<{point}@x>")
    with mail_server() as server:
        settings.SMTP_URL = f"smtp://127.0.0.1:{server.port}"
        crash(settings.SMTP_URL, tmp_path, *POINTS)
        left = {row.key: row.state for row in Notice.objects.all()}
        assert left == {point: state for point, (state, _copies) in POINTS.items()}

        first_lease = min(
            row.lease_until for row in Notice.objects.filter(state=State.CLAIMED) if row.lease_until
        )
        assert (
            send_due(clock=lambda: first_lease - timedelta(seconds=1)) == 1
        )  # the one that was never claimed
        assert send_due(clock=lambda: timezone.now() + LEASE) == list(left.values()).count(State.CLAIMED)
        assert send_due(clock=lambda: timezone.now() + 2 * LEASE) == 0
    taken = Counter(mail["Message-ID"] for mail in server.taken)
    assert taken == {f"<{point}@x>": copies for point, (_state, copies) in POINTS.items()}
    for row in Notice.objects.all():
        taken_over = left[row.key] == State.CLAIMED
        assert (row.state, row.attempts) == (State.SENT, 2 if taken_over else 1)
        assert row.events.filter(why="lease lapsed, taken over").count() == taken_over


@pytest.mark.slow
@pytest.mark.parametrize(
    ("point", "copies"),
    [("gathered", 1), ("gathered-after-claim", 1), ("gathered-before-dot", 1), ("gathered-after-answer", 2)],
)
def test_a_sender_killed_over_one_mail_for_several_loses_none_of_them(
    point: str, copies: int, real_transactions: None, settings: Settings, tmp_path: Path
) -> None:
    now, site = timezone.now(), make_site("hillside")
    rows = [make_due_today(site, now, reference=f"C{number}") for number in range(4)]
    with mail_server() as server:
        settings.SMTP_URL = f"smtp://127.0.0.1:{server.port}"
        crash(settings.SMTP_URL, tmp_path, point)
        assert {row.state for row in Notice.objects.exclude(kind="digest")} == {State.GATHERED}
        digest = Notice.objects.get(kind="digest")
        assert send_due(clock=lambda: timezone.now() + LEASE) == 1
        assert [mail["Message-ID"] for mail in server.taken] == [digest.message_id] * copies
        text = str(server.taken[-1].get_body(("plain",)).get_content())  # type: ignore[union-attr]
        assert all(row.reference in text for row in rows)
        assert send_due(clock=lambda: timezone.now() + 2 * LEASE) == 0
    assert {row.state for row in Notice.objects.all()} == {State.SENT}
    assert Notice.objects.count() == 5 and Notice.objects.filter(digest=digest).count() == 4
