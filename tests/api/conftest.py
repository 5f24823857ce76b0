"""Programs at the doors: one client for each account, with its key, on the suite's Monday morning."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from safety.models import Incident
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from staff.models import User
from tests.factories import Team

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


@pytest.fixture
def bitten(team: Team, now: datetime) -> Incident:
    """A bite of this morning, nothing written down yet but that it happened."""
    report = IncidentReport(
        kind="bite",
        happened_at=now - timedelta(minutes=30),
        wounds=(WoundReport(contact="bitten", broke_skin="yes", bled="yes"),),
    )
    return incident_report(
        actor=team.lead, person=team.person, key=uuid.uuid4(), report=report, now=now
    ).incident
