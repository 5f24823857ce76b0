"""What every page has in common."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.factories import Team

pytestmark = pytest.mark.django_db


def test_no_page_with_records_stays_in_a_browser_after_signing_out(team: Team) -> None:
    client = Client()
    client.force_login(team.officer)
    for path in ("/", "/readiness/", "/outings/", f"/people/{team.person.pk}/", "/account/"):
        page = client.get(path, follow=True)
        assert page.status_code == 200, path
        assert "no-store" in page.headers.get("Cache-Control", ""), path
