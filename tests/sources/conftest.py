"""One programme a module, taken back whole after each test: the published tables are long and change nothing."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from datetime import datetime
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from tests.factories import Team, make_team
from tests.sources.doors import NOW, Doors


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture(autouse=True)
def _stopped_clock(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture(scope="module")
def _standing(django_db_setup: Any, django_db_blocker: Any) -> Iterator[Team]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_team(NOW)
        transaction.set_rollback(True)


@pytest.fixture
def _django_db_helper(_standing: Team) -> None:
    """Stands in for pytest-django's own, which closes the connection after every test and the module's programme
    with it. Were it called otherwise one day, these tests would fail on PostgreSQL with a closed connection."""


@pytest.fixture
def team(_standing: Team) -> Iterator[Team]:
    """The programme of the module. What a test writes is undone; the rows it holds are its own copies."""
    with transaction.atomic():
        yield deepcopy(_standing)
        transaction.set_rollback(True)


@pytest.fixture
def doors(team: Team) -> Doors:
    """The doors as the site's officer finds them, with a key."""
    _row, key = AuthToken.objects.create(user=team.officer)
    client = APIClient(raise_request_exception=False)
    client.credentials(HTTP_AUTHORIZATION=f"Token {key}")
    return Doors(client, team)
