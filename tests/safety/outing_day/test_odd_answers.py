"""Answers nobody would give before leaving and after coming back are asked back, never a fault of the service."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import make_team
from tests.safety.outing_day.scenes import Day, make_day

pytestmark = pytest.mark.django_db
HUGE = str(10**30)


@pytest.fixture
def today() -> Day:
    now = timezone.now()
    return make_day(make_team(now), now)


def client_of(day: Day) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(day.head)
    return client


def leaving(day: Day) -> dict[str, object]:
    yes = dict.fromkeys(("helmets", "clothing", "kit", "clinic_open", "briefing"), "yes")
    here = {f"here{one.pk}": "yes" for one in day.people.values()}
    return {**yes, **here, "clinic": day.team.clinic.pk, "vaccine": "yes", "immunoglobulin": "yes"}


@pytest.mark.parametrize(
    "name", ["clinic", "joins1", "instead", "why", "missing_reason", "vaccine", "here", "joins1_role"]
)
@pytest.mark.parametrize("value", [HUGE, "-1", "x", "\x00", "x" * 5000])
def test_a_leaving_answered_oddly_is_no_fault(name: str, value: str, today: Day) -> None:
    key = f"{name}{today.people['catcher'].pk}" if name in ("instead", "why", "here") else name
    said = leaving(today) | {key: value}
    if name in ("instead", "why"):
        said[f"here{today.people['catcher'].pk}"] = "no"
    page = reverse("crew-leaving", args=[today.outing.pk, today.crew.pk])
    assert client_of(today).post(page, said).status_code < 500


@pytest.mark.parametrize(
    "name", ["hours", "people", "dogs", "incidents", "near_misses", "sharps_note", "note", "task-netting"]
)
@pytest.mark.parametrize("value", [HUGE, "-1", "NaN", "1e9", "Infinity", "0.001", "\x00", "٣"])
def test_a_return_answered_oddly_is_no_fault(name: str, value: str, today: Day) -> None:
    said = {
        "hours": "5",
        "people": "4",
        "dogs": "10",
        "none_said": "on",
        "sharps_disposed": "yes",
        "sharps_note": "box",
        name: value,
    }
    page = reverse("crew-back", args=[today.outing.pk, today.crew.pk])
    assert client_of(today).post(page, said).status_code < 500


@pytest.mark.parametrize("name", ["crew-leaving", "crew-back", "crew-leaving-void", "crew-back-void"])
def test_the_crew_of_another_outing_is_not_found(name: str, today: Day) -> None:
    assert client_of(today).get(reverse(name, args=[today.outing.pk + 1, today.crew.pk])).status_code == 404
