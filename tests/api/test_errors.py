"""One shape for every error, whatever is thrown at a door."""

from __future__ import annotations

import json
import logging
from datetime import datetime
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from knox.models import AuthToken
from rest_framework.exceptions import Throttled
from rest_framework.response import Response
from rest_framework.test import APIClient

from staff.api.regimen import series
from staff.doors.api_errors import one_shape
from staff.models import AuditEntry
from tests.api.conftest import Clients
from tests.factories import Team

pytestmark = pytest.mark.django_db
SERIES = "/api/v1/regimens/prep-im-0-7-21/series/"


def check_shape(answer: Any, status: int, code: str) -> dict[str, Any]:
    assert answer.status_code == status
    assert answer["Content-Type"].startswith("application/json")
    said: dict[str, Any] = json.loads(answer.content)
    assert set(said) == {"code", "message", "fields"}
    assert said["code"] == code and len(said["message"]) > 20
    assert all(isinstance(words, str) and words for words in said["fields"].values())
    return said


@pytest.mark.parametrize(
    "header",
    [
        "",
        "Token",
        "Token two parts",
        "Token 0123456789abcdef",
        "Bearer x",
        "Token \xff\xfe",
        "Token " + "k" * 9000,
    ],
)
def test_without_a_valid_key_every_door_answers_401(team: Team, header: str) -> None:
    client = APIClient(raise_request_exception=False)
    answer = client.get("/api/v1/regimens/", headers={"Authorization": header} if header else {})
    check_shape(answer, 401, "no-key")
    assert answer["WWW-Authenticate"] == "Token"


def test_the_key_of_an_account_that_is_switched_off_answers_401(team: Team, keyed: Clients) -> None:
    client = keyed(team.officer)
    team.officer.is_active = False
    team.officer.save()
    check_shape(client.get("/api/v1/clearance/"), 401, "no-key")


def test_a_session_of_the_pages_opens_no_door(team: Team) -> None:
    client = Client()
    client.force_login(team.officer)
    check_shape(client.get("/api/v1/clearance/"), 401, "no-key")


def test_a_role_that_is_missing_answers_403(team: Team, keyed: Clients) -> None:
    check_shape(keyed(team.member).get("/api/v1/notices/"), 403, "not-allowed")


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize(
    "address", ["none-such/", "incidents", "incidents/abc/washing/", "incidents/-1/visit/", ""]
)
def test_an_address_that_is_not_there_answers_404_and_never_redirects(
    team: Team, keyed: Clients, method: str, address: str
) -> None:
    check_shape(getattr(keyed(team.officer), method)(f"/api/v1/{address}"), 404, "not-found")


def test_an_id_longer_than_any_database_number_answers_404(team: Team, keyed: Clients) -> None:
    answer = keyed(team.officer).post(
        f"/api/v1/incidents/{'9' * 60}/washing/", {"clock": "start"}, format="json"
    )
    check_shape(answer, 404, "not-found")


@pytest.mark.parametrize("method", ["put", "patch", "delete", "options", "post"])
def test_a_method_the_door_lacks_answers_405(team: Team, keyed: Clients, method: str) -> None:
    check_shape(getattr(keyed(team.officer), method)("/api/v1/regimens/"), 405, "method-not-allowed")


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "application/xml", "nonsense"]
)
def test_a_body_that_is_not_json_answers_415(team: Team, keyed: Clients, kind: str) -> None:
    check_shape(keyed(team.officer).post(SERIES, "on=2026-02-10", content_type=kind), 415, "not-json")


def test_answers_are_json_even_for_readers_of_something_else(team: Team, keyed: Clients) -> None:
    check_shape(
        keyed(team.officer).get("/api/v1/regimens/", headers={"Accept": "text/html"}), 406, "not-acceptable"
    )


UNREADABLE = {
    "cut off": b'{"on": "2026-02-10", "doses"',
    "a list": b"[]",
    "a word": b'"2026-02-10"',
    "nothing": b"null",
    "no text": b"\xff\xfe\x00",
    "no number": b'{"on": NaN}',
    "no end": b'{"on": Infinity}',
    "half a pair": b'{"on": "\\ud800"}',
    "half a pair as a name": b'{"\\udfff": 1}',
    "too deep": b"[" * 60_000,
    "too many digits": b'{"on": ' + b"9" * 6_000 + b"}",
}


@pytest.mark.parametrize("raw", UNREADABLE.values(), ids=UNREADABLE.keys())
def test_a_body_that_cannot_be_read_answers_400(team: Team, keyed: Clients, raw: bytes) -> None:
    check_shape(keyed(team.officer).post(SERIES, raw, content_type="application/json"), 400, "unreadable")


def test_a_body_that_is_too_large_answers_413(team: Team, keyed: Clients) -> None:
    raw = b'{"on": "' + b"x" * 300_000 + b'"}'
    said = check_shape(
        keyed(team.officer).post(SERIES, raw, content_type="application/json"), 413, "too-large"
    )
    assert "256 KiB" in said["message"]


def test_too_many_requests_answer_429_with_the_wait() -> None:
    answer: Response = one_shape(Throttled(wait=7), {})
    assert (answer.status_code, answer.data["code"], answer["Retry-After"]) == (429, "too-many-requests", "7")


def test_what_nobody_foresaw_answers_500_and_is_logged_with_its_trace(
    team: Team, keyed: Clients, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def burst(**_facts: Any) -> None:
        raise ZeroDivisionError("the detail nobody outside may read")

    monkeypatch.setattr(series, "evaluate_series", burst)
    with caplog.at_level(logging.ERROR):
        answer = keyed(team.officer).post(SERIES, {"doses": [], "on": "2026-02-10"}, format="json")
    said = check_shape(answer, 500, "failed")
    assert "nobody outside" not in str(said)
    assert any(record.exc_info and record.exc_info[0] is ZeroDivisionError for record in caplog.records)


def test_the_command_prints_a_key_that_opens_the_doors(team: Team, now: datetime) -> None:
    out = StringIO()
    call_command("api_token", "officer", stdout=out)
    key = out.getvalue().strip()
    assert "\n" not in key and key not in str(AuthToken.objects.values())
    answer = APIClient().get("/api/v1/clearance/", headers={"Authorization": f"Token {key}"})
    assert answer.status_code == 200
    assert AuditEntry.objects.get(action="key.created").detail == {"account": "officer"}


def test_the_command_refuses_an_unknown_and_a_switched_off_account_in_a_sentence(team: Team) -> None:
    with pytest.raises(CommandError, match="No account is called “nobody”"):
        call_command("api_token", "nobody")
    team.officer.is_active = False
    team.officer.save()
    with pytest.raises(CommandError, match="switched off"):
        call_command("api_token", "officer")
    assert not AuthToken.objects.exists()


def test_the_command_refuses_an_eleventh_key(team: Team) -> None:
    for _key in range(10):
        call_command("api_token", "officer", stdout=StringIO())
    with pytest.raises(CommandError, match="revoke one first"):
        call_command("api_token", "officer")
