"""Whoever watches the service learns that it is ready, or what is wrong, without an account."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection
from django.test import Client

from safety.models import Heartbeat, Notice
from safety.pages.upkeep import health
from staff import guards
from tests.factories import Team
from tests.safety.pages.scenes import make_case, real_now, start_course

pytestmark = pytest.mark.django_db


def ask() -> Any:
    return Client().get("/healthz")


def test_a_service_with_nothing_due_is_ready(team: Team) -> None:
    answer = ask()
    assert answer.status_code == 200
    assert answer.json() == {
        "ready": True,
        "database": "answers",
        "guards": "in place",
        "oldest_due_notice_seconds": None,
        "last_tick_seconds": None,
    }


@pytest.mark.parametrize(("minutes", "status"), [(9, 200), (11, 503)])
def test_a_notice_ten_minutes_past_its_hour_is_a_failure(team: Team, minutes: int, status: int) -> None:
    start_course(team, make_case(team))
    due = real_now() - timedelta(minutes=minutes)
    Notice.objects.filter(pk=Notice.objects.order_by("pk")[0].pk).update(due_at=due, created_at=due)
    answer = ask()
    assert answer.status_code == status
    assert 0 <= answer.json()["oldest_due_notice_seconds"] - minutes * 60 < 30


def test_a_notice_written_after_its_hour_waits_since_it_was_written(team: Team) -> None:
    start_course(team, make_case(team))
    Notice.objects.update(due_at=real_now() - timedelta(hours=7))
    answer = ask()
    assert answer.status_code == 200 and answer.json()["oldest_due_notice_seconds"] < 30


@pytest.mark.parametrize(("tick", "due", "status"), [(4, True, 200), (6, True, 503), (6, False, 200)])
def test_a_silent_tick_is_a_failure_once_something_is_due(
    team: Team, tick: int, due: bool, status: int
) -> None:
    start_course(team, make_case(team))
    now = real_now()
    when = now - timedelta(minutes=1) if due else now + timedelta(days=1)
    Notice.objects.update(due_at=when, created_at=when)
    Heartbeat.objects.create(name="worker", at=now - timedelta(minutes=tick))
    answer = ask()
    assert answer.status_code == status
    assert 0 <= answer.json()["last_tick_seconds"] - tick * 60 < 30


def test_a_service_that_has_just_started_and_never_ticked_does_not_flap(team: Team) -> None:
    start_course(team, make_case(team))
    Notice.objects.update(due_at=real_now(), created_at=real_now())
    assert ask().status_code == 200


@pytest.mark.parametrize("state", ["sent", "failed", "withdrawn"])
def test_notices_that_came_to_an_end_do_not_count(team: Team, state: str) -> None:
    start_course(team, make_case(team))
    Notice.objects.update(due_at=real_now() - timedelta(days=1), state=state)
    assert ask().status_code == 200


def test_missing_guards_are_named_and_make_it_unready(team: Team) -> None:
    guards.remove(connection)
    try:
        answer = ask()
    finally:
        guards.install(connection)
    assert answer.status_code == 503
    assert answer.json()["ready"] is False and len(answer.json()["guards"]) > 1


def test_a_database_that_does_not_answer_is_said_so(team: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_connection: object) -> list[str]:
        raise DatabaseError("gone")

    monkeypatch.setattr(health.guards, "missing", broken)
    answer = ask()
    assert answer.status_code == 503 and answer.json()["database"] == "no answer"
