"""The clock of these tests, and a phone with the member's link."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.utils import timezone

from tests.factories import Team
from tests.safety.phone.phones import Phone, phone_of


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def phone(team: Team, now: datetime) -> Phone:
    return phone_of(team.person, team.officer, now)
