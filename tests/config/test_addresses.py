"""What stands in an address reaches the database only when it can be a key there."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.factories import Team

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "address",
    ["/cases/A%00B/", "/cases/A%00B/washing/", "/report/sent/%00/", "/cases/%F0%9F%90%95/", "/people/9%00/"],
)
def test_an_address_with_what_no_key_holds_is_not_found(address: str, team: Team) -> None:
    client = Client()
    client.force_login(team.officer)
    assert client.get(address).status_code == 404


def test_a_key_is_not_revoked_by_an_address_with_a_nul(team: Team) -> None:
    client = Client()
    client.force_login(team.officer)
    assert client.post("/account/keys/A%00B/revoke/").status_code == 404
