"""Programs at the doors: one client for each account, with its key, on the suite's Monday morning."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from staff.models import User

Clients = Callable[[User], APIClient]


@pytest.fixture(autouse=True)
def _stopped_clock(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def keyed(db: Any) -> Clients:
    """A client that sends the account's key. An error nobody foresaw answers 500 instead of ending the test."""

    def client(user: User) -> APIClient:
        _row, key = AuthToken.objects.create(user=user)
        made = APIClient(raise_request_exception=False)
        made.credentials(HTTP_AUTHORIZATION=f"Token {key}")
        return made

    return client
