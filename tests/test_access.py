"""Every route, every role, every owner: one table, and a route that isn't in it fails."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.contrib import admin
from django.db import transaction
from django.test import Client, override_settings
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone
from knox.models import AuthToken

from staff.models import AuditEntry, Crew, Person, User
from tests.access.table import TABLE, THINGS, VIEWERS
from tests.access.world import CANARIES, OF_NO_RECORD, World, make_world
from tests.factories import make_team

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("certificates")


@pytest.fixture(autouse=True)
def _certificates_of_the_test(files: Path, settings: Any) -> None:
    """The world outlives a test, and so do its documents."""
    settings.CERTIFICATE_DIR = files


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: Any, files: Path) -> Iterator[World]:
    """Made once: every test takes back what it did to it."""
    with (
        django_db_blocker.unblock(),
        override_settings(CERTIFICATE_DIR=files),
        pytest.MonkeyPatch.context() as patch,
        transaction.atomic(),
    ):
        patch.setattr(timezone, "now", lambda: NOW)
        yield make_world(make_team(NOW), NOW)
        transaction.set_rollback(True)


@pytest.fixture
def world(made: World, db: None) -> World:
    return made


def routes() -> Iterator[str]:
    """The name of every route; of the administrator's desk its front page, the rest is walked by itself."""

    def walk(resolver: URLResolver) -> Iterator[str]:
        for row in resolver.url_patterns:
            if isinstance(row, URLPattern):
                assert row.name, f"{row.pattern} has no name"
                yield row.name
            elif row.app_name == "admin":
                yield "admin:index"
            else:
                yield from walk(row)

    yield from walk(get_resolver())


def address(world: World, route: str) -> str:
    thing = THINGS.get(route)
    return reverse(route, kwargs=world.ids[thing] if thing else {})


def client_of(viewer: User | None, address: str) -> Client:
    client = Client(raise_request_exception=True)
    if viewer is not None and address.startswith("/api/"):
        _row, key = AuthToken.objects.create(user=viewer)
        client.defaults["HTTP_AUTHORIZATION"] = f"Token {key}"
    elif viewer is not None:
        client.force_login(viewer)
    return client


@dataclass(frozen=True)
class Seen:
    """What came of one request: the letter of the table, the text, and how many rows it left in the audit trail."""

    letter: str
    text: str
    audited: int


def ask(world: World, route: str, method: str, viewer: str) -> Seen:
    """One request, and everything it changed undone: so it is made once, however many tests look at its answer."""
    asked = (route, method, viewer)
    if asked not in world.seen:
        world.seen[asked] = _asked(world, *asked)
    return world.seen[asked]


def _asked(world: World, route: str, method: str, viewer: str) -> Seen:
    where = address(world, route)
    with transaction.atomic():
        client = client_of(world.viewers[viewer], where)
        before = AuditEntry.objects.count()
        answer = client.get(where) if method == "GET" else client.post(where, {}, **body_kind(where))
        audited = AuditEntry.objects.count() - before
        transaction.set_rollback(True)
    return Seen(letter_of(answer), answer.getvalue().decode(errors="replace"), audited)


def body_kind(where: str) -> dict[str, Any]:
    return {"content_type": "application/json"} if where.startswith("/api/") else {}


def letter_of(answer: Any) -> str:
    assert answer.status_code < 500
    if answer.status_code == 302 and re.search(r"/(sign-in|login)/", answer["Location"]):
        return "s"
    return {401: "s", 403: "n", 404: "h", 405: "-"}.get(answer.status_code, "y")


def rows() -> Iterator[tuple[str, str, str]]:
    """Route, method and letters of every row."""
    for name, letters in TABLE.items():
        methods, route = ([name.split()[0]], name.split()[1]) if " " in name else (["GET", "POST"], name)
        yield from ((route, method, letters) for method in methods)


def test_every_route_stands_in_the_table_and_the_table_names_no_other() -> None:
    assert {route for route, _method, _letters in rows()} == set(routes())


@pytest.mark.parametrize("viewer", VIEWERS)
def test_every_route_lets_in_whom_the_table_says_and_nobody_else(world: World, viewer: str) -> None:
    expected = {(route, method): letters[VIEWERS.index(viewer)] for route, method, letters in rows()}
    found = {(route, method): ask(world, route, method, viewer).letter for route, method in expected}
    assert found == expected


def test_a_method_without_a_row_is_not_served(world: World) -> None:
    served = {(route, method) for route, method, _letters in rows()}
    unserved = [
        (route, method) for route in routes() for method in ("GET", "POST") if (route, method) not in served
    ]
    assert {ask(world, route, method, "officer").letter for route, method in unserved} <= {"-"}


@pytest.mark.parametrize("viewer", [name for name in VIEWERS if name not in ("officer", "liaison")])
def test_who_may_not_read_the_record_finds_no_word_of_it_anywhere(world: World, viewer: str) -> None:
    leaks = [
        (route, method, word)
        for route, method, letters in rows()
        if letters[VIEWERS.index(viewer)] == "y"
        for text in [ask(world, route, method, viewer).text]
        for word, readers in CANARIES.items()
        if viewer not in readers and word in text
    ]
    assert not leaks


@pytest.mark.parametrize("viewer", sorted(frozenset().union(*CANARIES.values())))
def test_every_word_is_met_by_each_of_its_readers_so_that_not_meeting_it_says_something(
    world: World, viewer: str
) -> None:
    texts = [
        ask(world, route, method, viewer).text
        for route, method, letters in rows()
        if letters[VIEWERS.index(viewer)] == "y"
    ]
    met = {word for word in CANARIES if any(word in text for text in texts)}
    assert met == {word for word, readers in CANARIES.items() if viewer in readers}


@pytest.mark.parametrize("viewer", ["colleague", "stranger", "root", "nobody"])
def test_who_has_nothing_to_do_with_the_member_does_not_read_their_name(world: World, viewer: str) -> None:
    named = [
        route
        for route, method, letters in rows()
        if letters[VIEWERS.index(viewer)] == "y"
        and world.team.person.name in ask(world, route, method, viewer).text
    ]
    assert not named


def desk_pages() -> Iterator[str]:
    """Every page of the administrator's desk, of every row there is."""
    for model in admin.site._registry:
        name = f"admin:{model._meta.app_label}_{model._meta.model_name}"
        yield from (reverse(f"{name}_{page}") for page in ("changelist", "add"))
        for key in model._default_manager.values_list("pk", flat=True):
            yield from (reverse(f"{name}_{page}", args=[key]) for page in ("change", "history", "delete"))


@pytest.mark.parametrize("viewer", VIEWERS)
def test_the_desk_is_open_to_the_superuser_alone_and_shows_no_word_of_a_record(
    world: World, viewer: str
) -> None:
    client = client_of(world.viewers[viewer], "/")
    answers = {where: client.get(where) for where in desk_pages()}
    letters = {letter_of(answer) for answer in answers.values()}
    assert letters <= ({"y", "n"} if viewer == "root" else {"s"})
    words = [
        (where, word) for where, answer in answers.items() for word in CANARIES if word in str(answer.content)
    ]
    assert not words


def test_whom_the_desk_refuses_for_a_roster_it_doesnt_say_why(world: World) -> None:
    client, outing = client_of(world.viewers["root"], "/"), world.ids["outing"]["pk"]
    crew = Crew.objects.get(outing=outing).pk
    held = Person.objects.get(holds__reason="canary-reason").pk
    said = {"outing": outing, "crew": crew, "person": held, "role": "catcher"}
    answer = client.post(reverse("admin:staff_assignment_add"), said)
    assert "not clear" in answer.content.decode()
    assert not [word for word in CANARIES if word in answer.content.decode()]


@pytest.mark.parametrize("viewer", ["officer", "liaison"])
def test_a_look_at_somebody_elses_record_is_in_the_audit_trail(world: World, viewer: str) -> None:
    looks = {
        route: seen.audited
        for route, method, letters in rows()
        if method == "GET" and letters[VIEWERS.index(viewer)] == "y"
        for seen in [ask(world, route, method, viewer)]
        if any(word in seen.text for word in CANARIES.keys() - OF_NO_RECORD)
    }
    assert {"person", "case", "readiness", "api-clearance"} <= set(looks)
    assert not [route for route, audited in looks.items() if audited == 0]


def test_a_look_at_ones_own_record_leaves_no_row(world: World) -> None:
    for route in ("me", "person", "case"):
        seen = ask(world, route, "GET", "member")
        assert (seen.letter, seen.audited) == ("y", 0)
