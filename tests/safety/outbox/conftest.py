from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from pytest_django import Settings

from safety.models import Notice
from tests.factories import Team
from tests.safety.outbox.mailserver import MailServer, mail_server
from tests.safety.outbox.samples import make_notice


@pytest.fixture
def notice(team: Team, now: datetime) -> Notice:
    """One notice to the liaison, due a minute ago."""
    return make_notice(team.site, now - timedelta(minutes=1), now, email="liaison@example.org")


@pytest.fixture
def server(settings: Settings) -> Iterator[MailServer]:
    """A mail server that takes everything, and the service set to use it."""
    with mail_server() as running:
        settings.SMTP_URL = f"smtp://127.0.0.1:{running.port}"
        settings.SMTP_TIMEOUT_SECONDS = 5
        yield running
