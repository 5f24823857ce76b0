"""Many at once: one row, five tries, one key. Threads, on whichever engine the run has."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Barrier
from typing import Any
from unittest.mock import patch

import pytest
from django.contrib.auth import authenticate
from django.db import connections
from django.test import Client

from safety.models import Incident, PhoneMessage, SealKey, WashSpell
from safety.services.phone.keys import seal_key_current
from safety.services.phone.links import link_check
from staff.models import AuditEntry, Hold, User
from tests.factories import make_team
from tests.safety.phone.phones import message, phone_of, post

pytestmark = pytest.mark.usefixtures("real_transactions")
NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


def at_once(count: int, act: Callable[[], Any]) -> list[Any]:
    barrier = Barrier(count)

    def run() -> Any:
        barrier.wait()
        try:
            return act()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(count) as pool:
        return [future.result() for future in [pool.submit(run) for _each in range(count)]]


def test_one_report_sent_a_hundred_times_twenty_at_once_is_one_row() -> None:
    """The phone hears none of the answers and goes on sending."""
    team = make_team(NOW)
    phone = phone_of(team.person, team.officer, NOW)
    sent = message(phone.text("report", phone.bite(), uuid.uuid4()))
    answers = [answer for _round in range(5) for answer in at_once(20, lambda: post(sent))]
    assert Counter(answer.status_code for answer in answers) == {201: 100}
    assert len({answer.content for answer in answers}) == 1
    assert Incident.objects.count() == PhoneMessage.objects.count() == Hold.objects.count() == 1
    assert AuditEntry.objects.filter(action="incident.reported").count() == 1


def test_alarm_report_and_washing_at_once_are_one_case() -> None:
    team = make_team(NOW)
    phone = phone_of(team.person, team.officer, NOW)
    for _round in range(4):
        about = uuid.uuid4()
        bodies = [
            ("alarm", {"started_at": NOW.isoformat(), "person": None, "soap": "yes"}, 0),
            ("report", phone.bite(), 60),
            ("wash", {"spells": [phone.spell(0, 900)]}, 901),
        ]
        waiting = [message(phone.text(kind, body, about, late)) for kind, body, late in bodies]
        answers = at_once(3, lambda waiting=waiting: post(waiting.pop()))  # type: ignore[misc]
        assert {answer.status_code for answer in answers} == {201}
        incident = Incident.objects.get(key=about)
        assert incident.kind == "bite" and incident.details_at is not None
    states = Counter(PhoneMessage.objects.values_list("state", flat=True))
    assert set(states) <= {"placed", "waiting"} and states["placed"] >= 8
    assert WashSpell.objects.count() == 4


def test_a_hundred_guesses_of_a_link_at_once_compare_five() -> None:
    team = make_team(NOW)
    code = phone_of(team.person, team.officer, NOW).code
    wrong = code[:8] + "2" * 26
    with patch("safety.services.phone.links.constant_time_compare", return_value=False) as compared:
        states = [
            check.state
            for _round in range(5)
            for check in at_once(20, lambda: link_check(code=wrong, now=NOW))
        ]
    assert compared.call_count == 5
    assert Counter(states) == {"unknown": 5, "locked": 95}


@pytest.mark.parametrize(("door", "rounds"), [("/sign-in/", 5), ("/admin/login/", 1), ("/report/", 1)])
def test_a_hundred_guesses_of_a_password_at_once_try_five(door: str, rounds: int) -> None:
    User.objects.create_user("officer", password="right-and-long-enough", is_staff=True)
    said = {"username": "Officer", "password": "wrong"}
    with patch("django.contrib.auth.forms.authenticate", wraps=authenticate) as tried:
        answers = [
            answer for _round in range(rounds) for answer in at_once(20, lambda: Client().post(door, said))
        ]
        right = Client().post(door, said | {"username": "officer", "password": "right-and-long-enough"})
    assert tried.call_count == 5
    locked = [
        answer for answer in answers if "Too many tries. Try again in 15 minutes" in answer.content.decode()
    ]
    assert len(locked) == 20 * rounds - 5
    assert "_auth_user_id" not in right.client.session


def test_two_rotations_at_once_make_one_key() -> None:
    keys = at_once(8, lambda: seal_key_current(now=NOW).key_id)
    assert len(set(keys)) == SealKey.objects.count() == 1
