"""Who signs in, and what a page answers them."""

from __future__ import annotations

from datetime import datetime

from django.test import Client
from django.utils import timezone

from staff.models import Person, User
from tests.factories import Team, give_doses, make_person


def signed_in_as(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def clear_person(team: Team, number: str = "20", name: str = "Clear Person") -> Person:
    """Somebody with a complete series. Pages read the real clock, so the doses lie before the real today."""
    now = timezone.now()
    person = make_person(team.site, team.officer, now, number=number, name=name)
    give_doses(person, team.officer, now, 60, 53, 39)
    return person


def real_now() -> datetime:
    return timezone.now()
