"""The animal of a case through the doors: ten days with the exposure as day 0 (WHO 2018, read in a secondary copy)."""

from __future__ import annotations

from typing import Any

import pytest

from safety.models import AnimalCheck, Incident, Observation
from tests.api.conftest import Clients
from tests.factories import Team

pytestmark = pytest.mark.django_db


@pytest.fixture
def dog(bitten: Incident) -> Incident:
    bitten.animal = "dog-owned"
    bitten.save()
    return bitten


def test_a_dog_is_watched_and_checked(team: Team, keyed: Clients, dog: Incident) -> None:
    client, address = keyed(team.liaison), f"/api/v1/incidents/{dog.pk}/observation/"
    early = client.post(f"{address}checks/", {"day": "2026-03-02", "seen": "well"}, format="json")
    assert (early.status_code, early.json()["code"]) == (409, "animal-not-watched")
    made = client.post(address, {"described": "brown dog"}, format="json")
    assert made.status_code == 201
    assert (made.json()["first_on"], made.json()["last_on"]) == ("2026-03-02", "2026-03-12")
    again = client.post(address, {"described": "brown dog"}, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "animal-watched")
    check = client.post(f"{address}checks/", {"day": "2026-03-02", "seen": "ill"}, format="json")
    assert (check.status_code, check.json()["seen"]) == (201, "ill")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"day": "2026-03-03"}, "day"),
        ({"day": "2026-03-01"}, "day"),
        ({"seen": "odd"}, "seen"),
        ({"note": "x" * 301}, "note"),
    ],
)
def test_a_check_that_cannot_be_names_the_field(
    team: Team, keyed: Clients, dog: Incident, change: dict[str, Any], field: str
) -> None:
    client, address = keyed(team.liaison), f"/api/v1/incidents/{dog.pk}/observation/"
    client.post(address, {"described": "brown dog"}, format="json")
    said = {"day": "2026-03-02", "seen": "well"} | change
    answer = client.post(f"{address}checks/", said, format="json")
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])
    assert not AnimalCheck.objects.exists()


@pytest.mark.parametrize("who", ["member", "lead"])
def test_it_is_for_the_officer_and_the_liaison(team: Team, keyed: Clients, dog: Incident, who: str) -> None:
    client = keyed(getattr(team, who))
    answer = client.post(f"/api/v1/incidents/{dog.pk}/observation/", {"described": "it"}, format="json")
    assert answer.status_code == 403
    assert not Observation.objects.exists()
