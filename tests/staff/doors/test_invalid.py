"""A form that lacks what it asks for is answered alike by every page of both packages."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone

from tests.access.world import World, make_world
from tests.factories import Team
from tests.test_access import address, client_of, rows

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr(timezone, "now", lambda: now)
    return make_world(team, now)


def answer_to_nothing(world: World, route: str, viewer: str) -> Any:
    """A post that answers no question of the page; everything it changed is undone."""
    with transaction.atomic():
        where = address(world, route)
        answer = client_of(world.viewers[viewer], where).post(where, {"nothing": "of use"})
        transaction.set_rollback(True)
    return answer


def faults(answer: Any) -> bool:
    """Whether some form on the page says what to mend."""
    shown = {name for part in answer.context or () for name in part.flatten()} if answer.context else set()
    return any(getattr(answer.context[name], "errors", None) for name in shown if name.endswith("form"))


@pytest.mark.parametrize("viewer", ["officer", "liaison"])
def test_an_invalid_form_is_400_on_every_page(world: World, viewer: str) -> None:
    posted = {route for route, method, _letters in rows() if method == "POST"}
    pages = [route for route in sorted(posted) if not address(world, route).startswith("/api/")]
    answers = {route: answer_to_nothing(world, route, viewer) for route in pages}
    statuses = {route: answer.status_code for route, answer in answers.items() if faults(answer)}
    assert len(statuses) >= 25
    assert {route: status for route, status in statuses.items() if status != 400} == {}
    assert 422 not in {answer.status_code for answer in answers.values()}
