"""A session left open is no place to guess the password: every door counts with the same counter."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from knox.models import AuthToken

from staff.models import GuessCounter, User
from tests.factories import Team
from tests.staff.pages.scenes import signed_in_as

pytestmark = pytest.mark.django_db
RIGHT, NEW = "kettle-lantern-42", "harbour-lantern-77"
LOCKED = "until then nothing is compared"


@pytest.fixture
def officer(team: Team) -> User:
    team.officer.set_password(RIGHT)
    team.officer.save()
    return team.officer


def ask_key(client: Client, password: str) -> str:
    return client.post(reverse("account-key-add"), {"password": password}).content.decode()


def ask_change(client: Client, password: str) -> str:
    data = {"old_password": password, "new_password1": NEW, "new_password2": NEW}
    return client.post(reverse("account-password"), data).content.decode()


def sign_in(_client: Client, password: str) -> str:
    data = {"username": "officer", "password": password}
    return Client().post(reverse("sign-in"), data).content.decode()


DOORS = {"keys": ask_key, "password": ask_change, "sign-in": sign_in}


@pytest.mark.parametrize("door", ["keys", "password"])
def test_the_sixth_try_is_not_compared_though_it_is_right(door: str, officer: User) -> None:
    client = signed_in_as(officer)
    for _try in range(5):
        assert LOCKED not in DOORS[door](client, "wrong")
    assert LOCKED in DOORS[door](client, RIGHT)
    officer.refresh_from_db()
    assert officer.check_password(RIGHT) and not AuthToken.objects.exists()


@pytest.mark.parametrize("then", DOORS)
def test_tries_at_one_door_count_at_the_others(then: str, officer: User) -> None:
    client = signed_in_as(officer)
    for door in (ask_key, ask_change, sign_in, ask_key, ask_change):
        assert LOCKED not in door(client, "wrong")
    assert LOCKED in DOORS[then](client, RIGHT)


def test_the_right_password_forgives_the_slips_before_it(officer: User) -> None:
    client = signed_in_as(officer)
    for _try in range(4):
        ask_key(client, "wrong")
    assert LOCKED not in ask_key(client, RIGHT)
    assert AuthToken.objects.count() == 1
    assert GuessCounter.objects.get().tries == 0


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("real_transactions")
@pytest.mark.parametrize("door", ["keys", "password"])
def test_guesses_in_parallel_are_five(door: str, officer: User) -> None:
    clients = [signed_in_as(officer) for _ in range(12)]

    def once(client: Client) -> bool:
        try:
            return LOCKED in DOORS[door](client, "wrong")
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        locked = list(pool.map(once, clients))
    assert locked.count(False) == 5
    assert LOCKED in DOORS[door](signed_in_as(officer), RIGHT)
