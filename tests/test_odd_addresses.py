"""Every page that reads its address, asked with what nobody would ask: a sentence or 404, never a fault of the service."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator
from datetime import datetime
from itertools import combinations
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from tests.access.world import World, make_world
from tests.factories import Team
from tests.test_access import address, client_of

pytestmark = pytest.mark.django_db
DAYS = (
    "0001-01-01",
    "0001-01-03",
    "1969-12-31",
    "9998-06-01",
    "9999-12-31",
    "9999-12-25",
    "2028-02-29",
    "2027-02-29",
    "20261201",
    "2026-W50-1",
)
ODD = ("", "x", "-1", "0", "1", "999999", "9" * 30, "9" * 5000, "\x00", "²", "1e3", "inf", "é" * 400)

# Route: what its address may ask, and what a sensible address says besides.
ASKED: dict[str, tuple[tuple[str, ...], dict[str, str]]] = {
    "readiness": (("on", "site", "role", "state"), {}),
    "briefings-add": (("site", "outing", "role", "who", "held_on"), {}),
    "person-clearance": (("on",), {}),
    "roster-grid": (("first", "days", "site"), {"days": "28"}),
    "roster-proposal": (("first", "days", "site"), {"days": "28"}),
    "roster-cell": (("first", "days"), {"days": "28"}),
    "outing": (("role",), {}),
    "outings": (("all",), {}),
    "kit": (("copy",), {}),
    "campaign": (("first", "weekdays", "people_at_most"), {"first": "2026-03-02", "weekdays": "1"}),
    "campaign-field": (("weekdays", "again", "show"), {}),
    "regimen": (
        ("dose_1", "dose_2", "on", "version", "route", "late_rule", "restart_after_days"),
        {"dose_1": "2026-03-02"},
    ),
    "cases": (("show", "page"), {}),
    "case-letter": (("language",), {}),
    "case-letter-file": (("language",), {}),
    "follow-up-figures": (("first", "last", "site"), {}),
    "notices": (("q", "state", "page"), {}),
    "mailbox": (("page",), {}),
    "api-clearance": (("on", "site"), {}),
    "api-explained": (("on",), {}),
    "api-outings": (("since", "until", "site"), {}),
    "api-regimen": (("version",), {}),
    "api-notices": (("state", "before", "limit"), {}),
}


def routes() -> Iterator[tuple[str, str, bool]]:
    """Name of each route, the module that answers it, and whether that module reads an address itself."""

    def walk(resolver: URLResolver) -> Iterator[tuple[str, str, bool]]:
        for row in resolver.url_patterns:
            if isinstance(row, URLResolver):
                if row.app_name != "admin":
                    yield from walk(row)
            else:
                yield from of(row)

    def of(row: URLPattern) -> Iterator[tuple[str, str, bool]]:
        source = inspect.getsource(sys.modules[row.callback.__module__])
        ours = row.callback.__module__.startswith(("staff.", "safety."))
        if row.name and ours:
            yield row.name, row.callback.__module__, ".GET" in source or "query(request," in source

    yield from walk(get_resolver())


@pytest.fixture
def world(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr(timezone, "now", lambda: now)
    return make_world(team, now)


def test_every_module_that_reads_an_address_has_a_route_in_the_table() -> None:
    found = list(routes())
    assert set(ASKED) <= {name for name, _module, _reads in found}
    reading = {module for _name, module, reads in found if reads}
    assert reading <= {module for name, module, _reads in found if name in ASKED}


@pytest.mark.parametrize("route", ASKED)
def test_an_odd_address_is_answered_in_words(route: str, world: World) -> None:
    names, usual = ASKED[route]
    where = address(world, route)
    client = client_of(world.team.officer, where)
    client.raise_request_exception = False
    asked: list[dict[str, Any]] = [usual | {name: odd} for name in names for odd in (*DAYS, *ODD)]
    asked += [usual | dict.fromkeys(pair, day) for pair in combinations(names, 2) for day in DAYS]
    faults = [each for each in asked if client.get(where, each).status_code >= 500]
    assert not faults
