"""The officer sees whether the service is at work, with a word and a remedy for each thing that isn't."""

from __future__ import annotations

import socket
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from config.celery import app
from safety.models import Heartbeat, Notice
from safety.outbox.states import State
from safety.pages.upkeep import status
from safety.selectors.upkeep.status import services_seen
from safety.services.notices.tick import tick
from safety.services.upkeep.heartbeats import PAUSE, heartbeat_note
from staff import guards
from staff.bell import bell_answers
from tests.factories import Team
from tests.safety.outbox.samples import make_notice
from tests.safety.pages.scenes import real_now, signed_in_as, text_of

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)


@pytest.fixture(autouse=True)
def _a_broker_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(status, "bell_answers", lambda: True)


def shown(team: Team) -> str:
    return text_of(signed_in_as(team.officer).get(reverse("status")))


def test_a_service_where_everything_is_at_work_says_so(team: Team) -> None:
    Heartbeat.objects.create(name="worker", at=real_now())
    said = shown(team)
    assert "Everything is at work." in said and "Worker" in said and "Nothing that is due waits." in said


@pytest.mark.parametrize(("seconds", "late"), [(119, False), (121, True)])
def test_a_service_silent_for_two_minutes_is_late(team: Team, seconds: int, late: bool) -> None:
    now = real_now()
    Heartbeat.objects.create(name="worker", at=now - seconds * SECOND)
    assert [row.late for row in services_seen(now)] == [late]


def test_a_loop_run_once_by_hand_is_not_called_late_for_ever(team: Team) -> None:
    now = real_now()
    Heartbeat.objects.create(name="send_due", at=now - timedelta(days=2))
    assert [row.unused for row in services_seen(now)] == [False]
    Heartbeat.objects.create(name="worker", at=now)
    assert {row.name: row.unused for row in services_seen(now)} == {"send_due": True, "worker": False}
    assert "Everything is at work." in shown(team)


def test_everything_that_is_wrong_stands_with_its_remedy(team: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    now = real_now()
    old = now - timedelta(hours=1)
    make_notice(team.site, old, old)
    make_notice(team.site, old, old, state=State.FAILED, settled_at=old)
    monkeypatch.setattr(status, "bell_answers", lambda: False)
    guards.remove(connection)
    try:
        said = shown(team)
    finally:
        guards.install(connection)
    for words in (
        "never ran",
        "manage.py send_due --loop 30",
        "The oldest has waited for 1",
        "In the last seven days: 1. Ever: 1.",
        "manage.py migrate",
        "no answer",
        "things need somebody",
    ):
        assert words in said, words


def test_counts_are_of_the_readers_own_sites(team: Team) -> None:
    now = real_now()
    make_notice(team.other_site, now, now, state=State.FAILED, settled_at=now)
    assert "In the last seven days: 0. Ever: 0." in shown(team)


def test_the_page_costs_the_same_whatever_there_is(team: Team) -> None:
    client, counts = signed_in_as(team.officer), []
    for _ in range(3):
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("status"))
        counts.append(len(asked))
        for _each in range(5):
            make_notice(team.site, real_now(), real_now())
    # The first may note the session.
    assert counts[1] == counts[2] <= counts[0]


def test_a_tick_leaves_a_sign_of_life_and_no_more_than_one_in_fifteen_seconds(team: Team) -> None:
    now = real_now()
    assert tick(clock=lambda: now, beat="worker") == 0
    heartbeat_note(name="worker", now=now + PAUSE - SECOND)
    assert Heartbeat.objects.get().at == now
    heartbeat_note(name="worker", now=now + PAUSE)
    assert Heartbeat.objects.get().at == now + PAUSE
    # A clock that was set back is followed.
    heartbeat_note(name="worker", now=now - timedelta(days=1))
    assert Heartbeat.objects.get().at == now - timedelta(days=1)
    assert not Notice.objects.exists()


def test_the_broker_of_this_run_answers_and_a_dead_one_is_said_within_seconds(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert bell_answers()
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        kept = app.connection_for_write
        # One that takes the connection and never says a word.
        monkeypatch.setattr(app, "connection_for_write", lambda: kept(f"redis://127.0.0.1:{port}/0"))
        started = real_now()
        assert not bell_answers()
    assert real_now() - started < timedelta(seconds=20)
