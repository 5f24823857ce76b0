"""Random bodies and queries: a door may refuse, but it never fails, and every refusal has the one shape."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from tests.api.conftest import Clients
from tests.factories import Team, make_outing

pytestmark = pytest.mark.django_db

DATES = st.sampled_from(
    [
        "2026-03-02",
        "2026-03-01",
        "1900-01-01",
        "2199-12-31",
        "0001-01-01",
        "9999-12-31",
        "2026-02-29",
        "2026-W10-1",
    ]
)
INSTANTS = st.sampled_from(
    [
        "2026-03-02T05:40:00Z",
        "2026-03-02T05:50:00+00:00",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-14:00",
        "1900-01-01T00:00:00Z",
        "1970-01-01T00:00:00Z",
        "2026-03-02T05:40:00+99:99",
    ]
)
WORDS = st.sampled_from(
    [
        "bite",
        "near-miss",
        "yes",
        "no",
        "unknown",
        "course",
        "start",
        "stop",
        "catcher",
        "IM",
        "keep-calendar",
        "restart",
    ]
    + [
        "pep-im-0-3-7-14-28",
        "hillside",
        "harbour",
        "bitten",
        "hand",
        "distracted",
        "waiting",
        "fixed-post",
        "none",
    ]
)
NUMBERS = st.one_of(
    st.integers(-2, 20), st.integers(), st.just(2**63), st.just(10**30), st.floats(allow_nan=False)
)
ATOMS = st.one_of(
    st.none(),
    st.booleans(),
    NUMBERS,
    DATES,
    INSTANTS,
    WORDS,
    st.text(max_size=20),
    st.just("a\0b"),
    st.just("x" * 3000),
)
VALUES = st.recursive(
    ATOMS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["given_on", "contact", "x"]), inner, max_size=3),
    ),
    max_leaves=6,
)
VALID: dict[str, dict[str, Any]] = {
    "regimens/prep-im-0-7-21/schedule/": {"day_zero": "2026-03-02", "given": ["2026-03-02"]},
    "regimens/prep-im-0-7-21/series/": {"on": "2026-03-02", "doses": [{"given_on": "2026-03-01"}]},
    "outings/": {"date": "2026-03-09", "area": "Lower market"},
    "outings/{outing}/details/": {"start_time": "07:30"},
    "outings/{outing}/assignments/": {"person": 1, "role": "catcher"},
    "incidents/": {"person": 1, "kind": "bite", "happened_at": "2026-03-02T05:40:00Z"},
    "incidents/{incident}/washing/": {
        "started_at": "2026-03-02T05:40:00Z",
        "stopped_at": "2026-03-02T05:50:00Z",
    },
    "incidents/{incident}/referral/": {"clinic": 1},
    "incidents/{incident}/visit/": {"clinic": 1, "visited_on": "2026-03-02", "decision": "pending"},
    "incidents/{incident}/course/": {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2026-03-02"},
    "courses/{course}/doses/": {"given_on": "2026-03-02"},
}
FIELDS = {
    "regimens/prep-im-0-7-21/schedule/": ["day_zero", "given", "late_rule", "restart_after_days"],
    "regimens/prep-im-0-7-21/series/": ["doses", "on"],
    "outings/": ["site", "date", "area", "method", "dogs_expected", "crews", "details"],
    "outings/{outing}/details/": ["start_time", "meeting_latitude", "meeting_place", "note"],
    "outings/{outing}/assignments/": ["person", "crew", "role"],
    "incidents/": [
        "person",
        "kind",
        "happened_at",
        "wounds",
        "causes",
        "washed_minutes",
        "soap",
        "narrative",
    ],
    "incidents/{incident}/washing/": ["clock", "started_at", "stopped_at", "soap"],
    "incidents/{incident}/referral/": ["clinic"],
    "incidents/{incident}/visit/": ["clinic", "visited_on", "decision", "immunoglobulin", "note"],
    "incidents/{incident}/course/": ["regimen", "version", "starts_on"],
    "courses/{course}/doses/": ["given_on", "route", "injections", "batch"],
}


@pytest.fixture
def officer(team: Team, keyed: Clients) -> APIClient:
    return keyed(team.officer)


@pytest.fixture
def places(team: Team, officer: APIClient, now: Any) -> dict[str, int]:
    outing, _crew = make_outing(team.site, team.officer, now)
    report = {"kind": "bite", "happened_at": "2026-03-02T05:40:00Z", "person": team.person.pk}
    made = officer.post("/api/v1/incidents/", report, format="json", headers={"Idempotency-Key": "a"}).json()
    seen = {"clinic": team.clinic.pk, "visited_on": "2026-03-02", "decision": "course"}
    officer.post(f"/api/v1/incidents/{made['id']}/visit/", seen, format="json")
    asked = {"regimen": "pep-im-0-3-7-14-28", "starts_on": "2026-03-02"}
    course = officer.post(f"/api/v1/incidents/{made['id']}/course/", asked, format="json").json()
    return {
        "person": team.person.pk,
        "clinic": team.clinic.pk,
        "outing": outing.pk,
        "incident": made["id"],
        "course": course["id"],
    }


def check(answer: Any, sent: Any) -> None:
    assert answer.status_code < 500, (sent, answer.content)
    if answer.status_code >= 400:
        assert set(answer.json()) == {"code", "message", "fields"}


@pytest.mark.parametrize("door", FIELDS)
def test_no_body_makes_a_door_fail(door: str, officer: APIClient, places: dict[str, int]) -> None:
    address = "/api/v1/" + door.format(**places)
    own = {name: places[name] for name in ("person", "clinic") if name in VALID[door]}

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(st.fixed_dictionaries({}, optional=dict.fromkeys([*FIELDS[door], "surprise"], VALUES)))
    def throw(faults: dict[str, Any]) -> None:
        body = VALID[door] | own | faults
        check(
            officer.post(address, body, format="json", headers={"Idempotency-Key": str(hash(str(body)))}),
            body,
        )

    throw()


@pytest.mark.parametrize(
    ("door", "names"),
    [
        ("clearance/", ["on", "site"]),
        ("outings/", ["since", "until", "site"]),
        ("notices/", ["state", "before", "limit"]),
        ("regimens/prep-im-0-7-21/", ["version"]),
    ],
)
def test_no_query_makes_a_door_fail(door: str, names: list[str], officer: APIClient) -> None:
    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(st.fixed_dictionaries({}, optional=dict.fromkeys(names, ATOMS.map(str))))
    def throw(query: dict[str, str]) -> None:
        check(officer.get(f"/api/v1/{door}", query), query)

    throw()


def test_every_date_the_doors_take_can_be_judged(team: Team, officer: APIClient) -> None:
    for day in ("1900-01-01", "2199-12-31"):
        assert officer.get("/api/v1/clearance/", {"on": day}).status_code == 200
        asked = {"day_zero": day, "given": [day]}
        answer = officer.post("/api/v1/regimens/prep-im-0-7-21/schedule/", asked, format="json")
        assert answer.status_code == 200
