"""The description of the doors: complete, valid, and true."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import URLPattern
from jsonschema import Draft202012Validator

from safety.api.case import examples as safety_examples
from safety.api.urls import urlpatterns as safety_doors
from staff.api import examples as staff_examples
from staff.api.urls import urlpatterns as staff_doors
from tests.api.conftest import Clients
from tests.factories import Team, give_doses

# The doors, as the design lists them; /api/v1/schema/ describes them and is not one of them.
DOORS = {
    "GET /api/v1/regimens/",
    "GET /api/v1/regimens/{code}/",
    "POST /api/v1/regimens/{code}/schedule/",
    "POST /api/v1/regimens/{code}/series/",
    "GET /api/v1/clearance/",
    "GET /api/v1/people/{id}/clearance/",
    "GET /api/v1/outings/",
    "POST /api/v1/outings/",
    "POST /api/v1/outings/{id}/details/",
    "POST /api/v1/outings/{id}/assignments/",
    "GET /api/v1/outings/{id}/kit/",
    "POST /api/v1/incidents/",
    "GET /api/v1/incidents/{reference}/",
    "POST /api/v1/incidents/{id}/washing/",
    "POST /api/v1/incidents/{id}/referral/",
    "POST /api/v1/incidents/{id}/visit/",
    "POST /api/v1/incidents/{id}/course/",
    "POST /api/v1/incidents/{id}/observation/",
    "POST /api/v1/incidents/{id}/observation/checks/",
    "POST /api/v1/courses/{id}/doses/",
    "GET /api/v1/notices/",
    "POST /api/v1/phone/messages/",
    "GET /api/v1/phone/keys/",
    "POST /api/v1/phone/card/",
}
# Opened by a personal link or by nothing at all, so that nobody who bleeds needs a key.
WITHOUT_KEY = {name for name in DOORS if "/phone/" in name}


@pytest.fixture
def schema(db: Any) -> dict[str, Any]:
    """As anybody gets it, without a key: it holds no data."""
    answer = Client().get("/api/v1/schema/")
    assert answer.status_code == 200
    found: dict[str, Any] = json.loads(answer.content)
    return found


def operations(schema: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {
        f"{method.upper()} {path}": operation
        for path, methods in schema["paths"].items()
        for method, operation in methods.items()
    }


def test_the_schema_is_valid_and_made_without_a_warning(tmp_path: Path) -> None:
    """Checked by the generator against the published JSON schema of OpenAPI 3.0."""
    call_command("spectacular", validate=True, fail_on_warn=True, file=str(tmp_path / "schema.yml"))
    assert (tmp_path / "schema.yml").stat().st_size > 10_000


def test_every_door_is_described_and_no_other(schema: dict[str, Any]) -> None:
    assert set(operations(schema)) == DOORS


def test_every_door_shows_what_to_send_what_comes_back_and_how_it_refuses(schema: dict[str, Any]) -> None:
    for name, operation in operations(schema).items():
        if name.startswith("POST"):
            assert operation["requestBody"]["content"]["application/json"]["examples"], name
        answers = operation["responses"]
        good = next(code for code in answers if code.startswith("2"))
        assert answers[good]["content"]["application/json"]["examples"], name
        assert operation["summary"], name
        if name in WITHOUT_KEY:
            assert operation.get("security", []) in ([], [{}]) and "401" not in answers, name
            continue
        for refusal in ("401", "403"):
            shape = answers[refusal]["content"]["application/json"]["schema"]
            assert shape == {"$ref": "#/components/schemas/Problem"}, name
        assert operation["security"] == [{"key": []}], name


def test_the_doors_that_are_served_are_those_that_are_described(schema: dict[str, Any]) -> None:
    undescribed = {"schema", "api-docs", "api-nowhere"}
    doors: list[URLPattern] = [row for row in (*staff_doors, *safety_doors) if row.name not in undescribed]
    served = {re.sub(r"<\w+:(\w+)>", r"{\1}", str(row.pattern)).replace("{pk}", "{id}") for row in doors}
    assert {f"/api/v1/{path}" for path in served} == set(schema["paths"])


def validator(schema: dict[str, Any], shape: dict[str, Any]) -> Draft202012Validator:
    """OpenAPI 3.0 writes "or null" as `nullable`, which JSON Schema says with a type list; all else is the same."""

    def plain(part: Any) -> Any:
        if isinstance(part, list):
            return [plain(inner) for inner in part]
        if not isinstance(part, dict):
            return part
        whole = {name: plain(inner) for name, inner in part.items() if name != "nullable"}
        return {"anyOf": [{"type": "null"}, whole]} if part.get("nullable") else whole

    return Draft202012Validator(plain({**shape, "components": schema["components"]}))


def answer_shape(schema: dict[str, Any], door: str, status: int) -> Draft202012Validator:
    answer = operations(schema)[door]["responses"][str(status)]
    return validator(schema, answer["content"]["application/json"]["schema"])


def test_real_answers_follow_the_schema(team: Team, keyed: Clients, schema: dict[str, Any], now: Any) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    client = keyed(team.officer)

    def post(door: str, asked: dict[str, Any], **ids: Any) -> Any:
        path = door.removeprefix("POST ").format(**ids)
        answer = client.post(path, asked, format="json", headers={"Idempotency-Key": "one"})
        assert answer.status_code in (200, 201), answer.content
        answer_shape(schema, door, answer.status_code).validate(answer.json())
        return answer.json()

    def get(door: str, **ids: Any) -> None:
        answer = client.get(door.removeprefix("GET ").format(**ids))
        answer_shape(schema, door, 200).validate(answer.json())
        assert answer.json()

    get("GET /api/v1/regimens/")
    get("GET /api/v1/regimens/{code}/", code="prep-im-0-7-21")
    get("GET /api/v1/clearance/")
    get("GET /api/v1/people/{id}/clearance/", id=team.person.pk)
    outing = post("POST /api/v1/outings/", staff_examples.OUTING_ASKED)
    post("POST /api/v1/outings/{id}/details/", staff_examples.DETAILS_ASKED, id=outing["id"])
    roster = {"person": team.person.pk, "role": "catcher"}
    post("POST /api/v1/outings/{id}/assignments/", roster, id=outing["id"])
    get("GET /api/v1/outings/")
    get("GET /api/v1/outings/{id}/kit/", id=outing["id"])
    case = post("POST /api/v1/incidents/", safety_examples.INCIDENT_ASKED | {"person": team.person.pk})
    post("POST /api/v1/incidents/{id}/washing/", safety_examples.WASHING_ASKED, id=case["id"])
    clinic = {"clinic": team.clinic.pk}
    post("POST /api/v1/incidents/{id}/referral/", safety_examples.REFERRAL_ASKED | clinic, id=case["id"])
    post("POST /api/v1/incidents/{id}/visit/", safety_examples.VISIT_ASKED | clinic, id=case["id"])
    course = post("POST /api/v1/incidents/{id}/course/", safety_examples.COURSE_ASKED, id=case["id"])
    post("POST /api/v1/courses/{id}/doses/", safety_examples.DOSE_ASKED, id=course["id"])
    get("GET /api/v1/incidents/{reference}/", reference=case["reference"])
    refused = client.get("/api/v1/notices/", {"state": "lost"})
    answer_shape(schema, "GET /api/v1/notices/", 400).validate(refused.json())


@pytest.mark.parametrize(
    ("door", "asked", "answered"),
    [
        ("pep-immunised-im-0-3/schedule/", staff_examples.SCHEDULE_ASKED, staff_examples.SCHEDULE),
        ("prep-im-0-7-21/series/", staff_examples.SERIES_ASKED, staff_examples.SERIES),
    ],
)
def test_the_computed_examples_are_what_the_doors_answer(
    team: Team, keyed: Clients, door: str, asked: dict[str, Any], answered: dict[str, Any]
) -> None:
    assert keyed(team.member).post(f"/api/v1/regimens/{door}", asked, format="json").json() == answered


def test_every_example_follows_the_schema(schema: dict[str, Any]) -> None:
    for operation in operations(schema).values():
        for status, answer in operation["responses"].items():
            content = answer.get("content", {}).get("application/json", {})
            for example in content.get("examples", {}).values():
                validator(schema, content["schema"]).validate(example["value"])
                assert status.startswith("2")


def test_the_page_of_the_schema_takes_nothing_from_elsewhere_and_has_nothing_inline(db: Any) -> None:
    answer = Client().get("/api/v1/docs/")
    assert answer.status_code == 200
    page = answer.content.decode()
    assert not re.search(r"(src|href)=[\"'](https?:)?//", page)
    assert (
        "<style" not in page and " style=" not in page and re.search(r"<script(?![^>]*\ssrc=)", page) is None
    )
    for address in re.findall(r"(?:src|href)=\"(/static/[^\"]+)\"", page):
        assert Client().get(address).status_code == 200, address
