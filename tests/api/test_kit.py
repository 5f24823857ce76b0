"""The kit of an outing through the door."""

from __future__ import annotations

from datetime import datetime

import pytest

from staff.services.outing.kit import kit_tick
from tests.api.conftest import Clients
from tests.factories import Team, make_outing

pytestmark = pytest.mark.django_db


def test_each_crews_kit_is_listed_with_what_is_ticked(team: Team, keyed: Clients, now: datetime) -> None:
    outing, crew = make_outing(team.site, team.officer, now)
    kit_tick(actor=team.lead, outing=outing, crew=crew, item="water", there=True, ticked_at=now, now=now)
    answer = keyed(team.liaison).get(f"/api/v1/outings/{outing.pk}/kit/")
    (listed,) = answer.json()["crews"]
    assert (listed["id"], listed["complete"]) == (crew.pk, False)
    items = {row["item"]: row for row in listed["items"]}
    assert items["water"] == {
        "item": "water",
        "words": "Water for washing wounds",
        "need": 30,
        "count": 30,
        "unit": "litres",
        "there": True,
        "ticked_at": "2026-03-02T06:00:00Z",
    }
    assert (items["soap"]["there"], items["soap"]["ticked_at"]) == (False, None)


def test_an_outing_of_another_site_is_not_there(team: Team, keyed: Clients, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now)
    assert keyed(team.stranger).get(f"/api/v1/outings/{outing.pk}/kit/").status_code == 404
