"""One table from a refusal to its status; every page and every door of the API answers by it."""

from __future__ import annotations

import ast
import gc
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.urls import get_resolver, reverse
from rest_framework.test import APIClient

from safety.errors import Unconfirmed
from safety.pages.phone import cards
from safety.services.course.doses_together import SomeRefused
from staff.api.outing import outings as outings_door
from staff.doors.retry import Unsure
from staff.doors.status import check_kinds, kinds
from staff.ground.errors import (
    Conflict,
    Invalid,
    KeyReused,
    NotAllowed,
    NotCleared,
    NotThere,
    Refused,
    TooMany,
)
from staff.ground.transactions import Crossed
from staff.pages.outing import roster_rules
from staff.pages.record import records
from tests.api.conftest import keyed
from tests.factories import Team
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.roster_case import Roster

__all__ = ["keyed"]
pytestmark = pytest.mark.django_db

WORDS = "It can't be done, says this test."
# What is promised of each kind: HTTP semantics (RFC 9110), 422 for a key that came before with another body.
EXPECTED: dict[type[Refused], tuple[Callable[[], Refused], int]] = {
    Invalid: (lambda: Invalid({}, WORDS), 400),
    Unconfirmed: (lambda: Unconfirmed({}, WORDS), 400),
    NotAllowed: (lambda: NotAllowed(WORDS), 403),
    NotThere: (lambda: NotThere(WORDS), 404),
    Conflict: (lambda: Conflict(WORDS), 409),
    Crossed: (Crossed, 409),
    Unsure: (Unsure, 409),
    SomeRefused: (lambda: SomeRefused({}), 409),
    NotCleared: (lambda: NotCleared(WORDS, reasons=[WORDS], clear_from=date(2026, 3, 2)), 409),
    KeyReused: (lambda: KeyReused(WORDS), 422),
    TooMany: (lambda: TooMany(WORDS, retry_after=7), 429),
}


def raising(refused: Refused) -> Callable[..., None]:
    def service(**_said: Any) -> None:
        raise refused

    return service


@pytest.fixture(params=EXPECTED, ids=lambda kind: kind.__name__)
def refused(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> tuple[Refused, int]:
    """One refusal, raised by the services behind a form, a button, a page that acts at once and the API."""
    make, status = EXPECTED[request.param]
    refusal = make()
    for module, name in (
        (records, "hold_place"),
        (roster_rules, "wish_remove"),
        (cards, "link_make"),
        (outings_door, "roster_assign"),
    ):
        monkeypatch.setattr(module, name, raising(refusal))
    return refusal, status


def test_every_kind_of_refusal_is_tried_here() -> None:
    assert get_resolver().url_patterns
    assert set(EXPECTED) == set(kinds())


def test_a_form_shows_the_refusal_under_its_status(team: Team, refused: tuple[Refused, int]) -> None:
    address = reverse("hold-add", args=[team.person.pk])
    answer = signed_in_as(team.officer).post(address, {"starts_on": real_now().date(), "reason": "fever"})
    assert answer.status_code == refused[1]
    assert answer.context["form"].non_field_errors() == [refused[0].message]


def test_a_page_that_acts_at_once_shows_the_refusal(team: Team, refused: tuple[Refused, int]) -> None:
    answer = signed_in_as(team.officer).post(reverse("phone-card", args=[team.person.pk]))
    assert answer.status_code == refused[1]
    assert answer.context["refused"] is refused[0]
    assert "no-store" in answer["Cache-Control"]


def test_a_button_tells_the_refusal_where_it_leads(team: Team, refused: tuple[Refused, int]) -> None:
    now = real_now()
    made = {"first_on": now, "last_on": now, "recorded_at": now, "recorded_by": team.officer}
    wish = team.person.day_wishes.create(kind="cannot", **made)
    address = reverse("wish-remove", args=[team.person.pk, wish.pk])
    answer = signed_in_as(team.officer).post(address, follow=True)
    assert [str(message) for message in answer.context["messages"]] == [refused[0].message]


def test_the_api_answers_the_refusal_in_its_shape(
    roster: Roster, keyed: Callable[[Any], APIClient], refused: tuple[Refused, int]
) -> None:
    address = f"/api/v1/outings/{roster.outing.pk}/assignments/"
    body = {"person": roster.off.pk, "role": "catcher"}
    answer = keyed(roster.team.officer).post(address, body, format="json")
    assert (answer.status_code, answer.json()["code"]) == (refused[1], refused[0].code)
    assert answer.json()["message"] == refused[0].message
    wait = getattr(refused[0], "retry_after", None)
    assert answer.headers.get("Retry-After") == (None if wait is None else str(wait))


def test_a_kind_the_table_lacks_is_named_when_the_addresses_load() -> None:
    check_kinds()
    stray = type("Stray", (Refused,), {"__module__": "somewhere.errors"})
    with pytest.raises(LookupError, match=r"somewhere\.errors\.Stray"):
        check_kinds()
    del stray
    gc.collect()
    check_kinds()


ROOT = Path(__file__).resolve().parents[3]
DOORS = [path for folder in ("pages", "api") for path in sorted(ROOT.glob(f"s*/{folder}/*.py"))]
REFUSALS = {kind.__name__ for kind in (*EXPECTED, Refused)}


@pytest.mark.parametrize("path", DOORS, ids=lambda path: "/".join(path.parts[-3:]))
def test_no_page_and_no_door_catches_a_refusal_itself(path: Path) -> None:
    caught = {
        name.id
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.ExceptHandler) and node.type is not None
        for name in ast.walk(node.type)
        if isinstance(name, ast.Name)
    }
    assert not caught & REFUSALS


# Reading what is asked, or a note that somebody looked: not what a form, a button or a program asks to be done.
NO_ACT = {
    *("audit_write", "audit_look", "need_clinicians_word", "check_new_regimen", "basis_after", "is_complete"),
    *("given_in", "held_words", "public_keys", "card_refusal", "message_opened", "choices_of", "fingerprint"),
    *("count_words", "finding_words", "place_words", "progress_words", "remark_words", "fault_words"),
    *("roster_fingerprint", "changed_since", "regimens_text", "draft_check", "draft_apply", "retried"),
}


def acts_outside(path: Path) -> list[str]:
    """Calls of a service in a page or a door that neither `acting` nor the form engine tries again."""
    tree = ast.parse(path.read_text())
    services = {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and ".services." in f"{node.module}."
        for alias in node.names
        if alias.name.islower()
    } - NO_ACT
    viewed = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.args.args[:1]]
    views = [node for node in viewed if node.args.args[0].arg in ("request", "_request")]
    doors = [node for node in tree.body if isinstance(node, ast.ClassDef) and "Door" in node.name]
    return [f"{path.name}:{call.lineno}" for view in (*views, *doors) for call in direct(view, services)]


def direct(node: ast.AST, services: set[str]) -> list[ast.Call]:
    """Calls in the body itself: what stands in a lambda or a function of its own is handed on."""
    found = []
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Lambda) or (
            isinstance(child, ast.FunctionDef) and not isinstance(node, ast.ClassDef)
        ):
            continue
        if isinstance(child, ast.Call) and isinstance(child.func, ast.Name) and child.func.id in services:
            found.append(child)
        found += direct(child, services)
    return found


@pytest.mark.parametrize("path", DOORS, ids=lambda path: "/".join(path.parts[-3:]))
def test_what_acts_is_tried_again_at_the_door(path: Path) -> None:
    assert not acts_outside(path)
