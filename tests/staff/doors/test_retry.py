"""The retry stands at the door: whatever acts begins anew after the database gave way, whichever service it is.

The codes are those of PostgreSQL's appendix A and of sqlite.org/rescode.html.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.db import OperationalError, connection
from django.urls import reverse
from rest_framework.test import APIClient

from safety.api.case import incidents as incidents_door
from safety.models import Incident, PhoneLink
from safety.pages.case import report_form
from safety.pages.phone import cards
from staff.ground import transactions
from staff.models import Hold, Person, SiteHoliday
from staff.pages.record import records
from staff.pages.site import holidays
from tests.api.conftest import keyed
from tests.factories import Team
from tests.safety.pages.scenes import answers
from tests.staff.pages.scenes import real_now, signed_in_as

__all__ = ["keyed"]
pytestmark = pytest.mark.usefixtures("real_transactions")
CAUSES = [{"sqlstate": "40P01"}, {"sqlstate": "40001"}, {"sqlite_errorcode": sqlite3.SQLITE_BUSY}]
SENTENCE = "Somebody changed the same records at the same moment. Nothing was saved; try again."
TRIES = 4


def lost(cause: dict[str, Any]) -> OperationalError:
    """An error as Django raises it: the driver's own one is its cause."""
    error = OperationalError("the database's words")
    error.__cause__ = type("DriverError", (Exception,), cause)()
    return error


@pytest.fixture(autouse=True)
def no_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transactions, "PAUSES", (0.0, 0.0, 0.0))


@dataclass
class Flaky:
    """A service that gives way so many times before it does what it does; `said` is what each try was given."""

    service: Callable[..., Any]
    failures: int
    cause: dict[str, Any]
    said: list[dict[str, Any]] = field(default_factory=list)

    def __call__(self, **said: Any) -> Any:
        self.said.append(said)
        if len(self.said) <= self.failures:
            raise lost(self.cause)
        return self.service(**said)


@dataclass(frozen=True)
class Act:
    """One kind of door: where its service is named, what is sent, and how much came of it."""

    module: ModuleType
    name: str
    send: Callable[[Team, Callable[..., APIClient]], Any]
    kept: int
    count: Callable[[], int]


def send_form(team: Team, _keyed: Callable[..., APIClient]) -> Any:
    said = {"starts_on": real_now().date(), "reason": "fever"}
    return signed_in_as(team.officer).post(reverse("hold-add", args=[team.person.pk]), said)


def press_button(team: Team, _keyed: Callable[..., APIClient]) -> Any:
    day = SiteHoliday.objects.create(site=team.site, date=real_now().date(), name="A day off")
    address = reverse("holiday-remove", args=[team.site.code, day.pk])
    return signed_in_as(team.officer).post(address)


def make_card(team: Team, _keyed: Callable[..., APIClient]) -> Any:
    return signed_in_as(team.officer).post(reverse("phone-card", args=[team.person.pk]))


def send_report(team: Team, _keyed: Callable[..., APIClient]) -> Any:
    return signed_in_as(team.member).post(reverse("report"), answers(team))


def call_api(team: Team, keyed: Callable[..., APIClient]) -> Any:
    said = {"kind": "bite", "happened_at": real_now().isoformat()}
    headers = {"Idempotency-Key": "one-report"}
    return keyed(team.member).post("/api/v1/incidents/", said, format="json", headers=headers)


ACTS = {
    "form": Act(records, "hold_place", send_form, 302, Hold.objects.count),
    "button": Act(holidays, "holiday_remove", press_button, 302, lambda: 1 - SiteHoliday.objects.count()),
    "page that acts at once": Act(cards, "link_make", make_card, 201, PhoneLink.objects.count),
    "report": Act(report_form, "incident_report", send_report, 302, Incident.objects.count),
    "API": Act(incidents_door, "incident_report", call_api, 201, Incident.objects.count),
}


@pytest.fixture(params=ACTS)
def act(request: pytest.FixtureRequest) -> Act:
    return ACTS[request.param]


@pytest.mark.parametrize("cause", CAUSES, ids=str)
def test_what_gave_way_twice_is_done_once_with_the_same_data(
    act: Act,
    cause: dict[str, Any],
    team: Team,
    keyed: Callable[..., APIClient],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    flaky = Flaky(getattr(act.module, act.name), 2, cause)
    monkeypatch.setattr(act.module, act.name, flaky)
    answer = act.send(team, keyed)
    assert answer.status_code == act.kept
    assert act.count() == 1
    assert len(flaky.said) == 3 and flaky.said[0] == flaky.said[1] == flaky.said[2]


def test_what_gives_way_too_often_is_told_in_a_sentence_and_not_kept(
    act: Act, team: Team, keyed: Callable[..., APIClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    flaky = Flaky(getattr(act.module, act.name), 99, CAUSES[0])
    monkeypatch.setattr(act.module, act.name, flaky)
    answer = act.send(team, keyed)
    assert len(flaky.said) == TRIES and act.count() == 0
    if act.send is press_button:
        # A button leads back, and the page it leads to tells the sentence.
        assert answer.status_code == 302
        assert [str(said) for said in get_messages(answer.wsgi_request)] == [SENTENCE]
        return
    assert answer.status_code == 409
    assert SENTENCE in answer.content.decode()
    if act.send is call_api:
        assert answer.json()["code"] == "changes-crossed"


def test_a_failure_that_is_no_lock_is_not_tried_again(
    team: Team, keyed: Callable[..., APIClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A connection that broke may have committed (57P01: the administrator shut it)."""
    flaky = Flaky(records.hold_place, 1, {"sqlstate": "57P01"})
    monkeypatch.setattr(records, "hold_place", flaky)
    with pytest.raises(OperationalError):
        send_form(team, keyed)
    assert len(flaky.said) == 1


def test_a_service_with_a_retry_of_its_own_leaves_the_trying_to_the_door(
    team: Team, keyed: Callable[..., APIClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    flaky = Flaky(records.hold_place, 99, CAUSES[0])
    monkeypatch.setattr(records, "hold_place", transactions.retried(flaky))
    assert send_form(team, keyed).status_code == 409
    assert len(flaky.said) == TRIES


def test_what_gave_way_outside_the_acting_part_says_to_look_first(
    team: Team, keyed: Callable[..., APIClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be kept by then, so nobody is told that nothing was saved."""

    def told(*_args: Any) -> None:
        raise lost(CAUSES[0])

    monkeypatch.setattr("staff.doors.form.told", told)
    answer = send_form(team, keyed)
    assert answer.status_code == 409 and Hold.objects.count() == 1
    assert "Look whether what you sent is there" in answer.content.decode()


def test_reading_begins_anew(team: Team, monkeypatch: pytest.MonkeyPatch) -> None:
    flaky = Flaky(lambda **_said: {}, 2, CAUSES[0])
    monkeypatch.setattr("staff.pages.record.readiness._board", lambda *_args: flaky())
    assert signed_in_as(team.officer).get(reverse("readiness")).status_code == 200
    assert len(flaky.said) == 3


@dataclass
class Elsewhere:
    """Another connection that holds what a request needs, until the request pauses before its second try."""

    release: Callable[[], None]
    paused: int = 0

    def sleep(self, _seconds: float) -> None:
        self.paused += 1
        self.release()


def sqlite_lock() -> Callable[[], None]:
    """SQLite has one lock for all who write."""
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")
    return other.close


def postgres_lock(person: Person) -> Callable[[], None]:
    """The row every change of somebody's record locks first."""
    other = connection.copy("elsewhere")
    other.set_autocommit(False)
    with other.cursor() as cursor:
        cursor.execute("SELECT 1 FROM staff_person WHERE id = %s FOR UPDATE", [person.pk])
    with connection.cursor() as cursor:
        cursor.execute("SET lock_timeout = '50ms'")
    return other.close


@pytest.mark.parametrize("name", ["form", "API"])
def test_a_lock_of_another_connection_is_waited_out(
    name: str, team: Team, keyed: Callable[..., APIClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    act, sqlite = ACTS[name], connection.vendor == "sqlite"
    # Signing in writes too; what is held is held only once the acting part begins.
    service, held = getattr(act.module, act.name), list[Elsewhere]()

    def first_held(**said: Any) -> Any:
        if not held:
            held.append(Elsewhere(sqlite_lock() if sqlite else postgres_lock(team.person)))
            pauses = SimpleNamespace(sleep=held[0].sleep, monotonic=time.monotonic)
            monkeypatch.setattr(transactions, "time", pauses)
        return service(**said)

    monkeypatch.setattr(act.module, act.name, first_held)
    try:
        assert act.send(team, keyed).status_code == act.kept
    finally:
        connection.close()
    assert held[0].paused == 1 and act.count() == 1
