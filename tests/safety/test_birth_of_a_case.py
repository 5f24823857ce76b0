"""A case is born in one way, whichever door it comes by: the same outing, hold, notices, washing and key."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from safety.errors import KeyReused
from safety.models import Answer, Incident, Notice
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from safety.services.phone.links import link_make
from staff.models import Assignment, AuditEntry, Hold, Outing
from staff.services.outing.roster import roster_assign, roster_withdraw
from tests.factories import Team, give_doses, make_outing
from tests.safety.pages.scenes import signed_in_as
from tests.safety.phone.phones import Phone

pytestmark = pytest.mark.django_db
KEY = uuid.UUID("0f8fad5b-d9cb-469f-a165-70867728950e")
WOUND = {"contact": "bitten", "body_site": "hand", "broke_skin": "yes", "bled": "yes"}


@pytest.fixture(autouse=True)
def _stopped_clock(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


def out_today(team: Team, now: datetime) -> Outing:
    """The team's person on an outing of today."""
    give_doses(team.person, team.officer, now, 30, 23, 9)
    outing, crew = make_outing(team.site, team.officer, now, days_ahead=0)
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=team.person, role="lead", now=now)
    return outing


def typed(now: datetime) -> IncidentReport:
    return IncidentReport(
        kind="bite",
        happened_at=now - timedelta(minutes=30),
        wounds=(WoundReport(**WOUND),),
        washed_minutes=15,
        soap=Answer.YES,
    )


def by_page(team: Team, now: datetime) -> None:
    local = (now - timedelta(minutes=30)).astimezone(team.site.zone)
    said = {"key": str(KEY), "kind": "bite", "day": local.date().isoformat(), "clock": f"{local:%H:%M}"}
    said |= {"body_site": "hand", "broke_skin": "yes", "bled": "yes", "washed_minutes": "15", "soap": "yes"}
    said |= {"animal": "unknown", "task": "unknown"}
    answer = signed_in_as(team.member).post(reverse("report"), said)
    assert answer.status_code == 302, answer.content.decode()


def by_service(team: Team, now: datetime) -> None:
    incident_report(actor=team.member, person=team.person, key=KEY, report=typed(now), now=now)


def by_phone(team: Team, now: datetime) -> None:
    started = now - timedelta(minutes=28)
    spell = {"started_at": started.isoformat(), "stopped_at": (started + timedelta(minutes=15)).isoformat()}
    phone = Phone(link_make(actor=team.member, person=team.person, now=now).code, now)
    phone.report(KEY, washing={"spells": [spell | {"soap": "yes"}], "antiseptic": "unknown"})


def by_api(team: Team, now: datetime) -> None:
    said = {"kind": "bite", "happened_at": (now - timedelta(minutes=30)).isoformat(), "wounds": [WOUND]}
    said |= {"washed_minutes": 15, "soap": "yes"}
    headers = {"Idempotency-Key": str(KEY)}
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {AuthToken.objects.create(user=team.member)[1]}")
    answer = client.post("/api/v1/incidents/", said, format="json", headers=headers)
    assert answer.status_code == 201, answer.content.decode()


DOORS: dict[str, Callable[[Team, datetime], None]] = {
    "page": by_page,
    "service": by_service,
    "phone": by_phone,
    "api": by_api,
}


@pytest.mark.parametrize("door", DOORS)
def test_by_every_door_the_case_belongs_to_the_outing_and_holds_and_tells(
    door: str, team: Team, now: datetime
) -> None:
    outing = out_today(team, now)
    DOORS[door](team, now)
    case = Incident.objects.get()
    assert (case.outing, case.person, case.details_at is not None) == (outing, team.person, True)
    assert case.wash_spells.get().soap == "yes" and case.wounds.get().contact == "bitten"
    assert Hold.objects.get(released_at=None).source == f"incident:{KEY}"
    assert Notice.objects.filter(kind="new-report", incident=case).count() == 2
    detail = AuditEntry.objects.get(action="incident.reported").detail
    assert detail["complete"] is True and detail["spells"] == 1


@pytest.mark.parametrize("door", DOORS)
def test_who_was_taken_off_that_day_was_on_no_outing(door: str, team: Team, now: datetime) -> None:
    out_today(team, now)
    roster_withdraw(actor=team.officer, assignment=Assignment.objects.get(), reason="ill", now=now)
    DOORS[door](team, now)
    assert Incident.objects.get().outing is None


def test_an_outing_that_is_named_goes_before_the_one_that_is_found(team: Team, now: datetime) -> None:
    out_today(team, now)
    other, _crew = make_outing(team.site, team.officer, now)
    incident_report(actor=team.member, person=team.person, key=KEY, report=typed(now), now=now, outing=other)
    assert Incident.objects.get().outing == other


def test_a_row_of_before_answers_the_same_report_and_refuses_another(team: Team, now: datetime) -> None:
    """Born without an outing by the digest of then: the body as it was sent, by whom and for whom."""
    report = typed(now)
    body: dict[str, Any] = {
        "kind": "bite",
        "happened_at": report.happened_at,
        "wounds": [WOUND | {"deep": "unknown"}],
        "animal": "unknown",
        "task": "unknown",
        "causes": [],
        "narrative": "",
        "washed_minutes": 15,
        "soap": "yes",
        "wash_started_at": None,
        "wash_stopped_at": None,
        "person": team.person.pk,
        "actor": team.member.pk,
        "outing": None,
    }
    digest = hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).hexdigest()
    by_service(team, now)
    Incident.objects.update(outing=None, body_digest=digest)
    again = incident_report(actor=team.member, person=team.person, key=KEY, report=report, now=now)
    assert (again.made, again.incident.outing) == (False, None)
    with pytest.raises(KeyReused):
        incident_report(actor=team.officer, person=team.person, key=KEY, report=report, now=now)


def test_a_story_is_kept_whole_and_never_refused_for_its_length(team: Team, now: datetime) -> None:
    report = IncidentReport(kind="bite", happened_at=now, narrative="x" * 20_000)
    incident_report(actor=team.member, person=team.person, key=KEY, report=report, now=now)
    assert Incident.objects.get().narrative == "x" * 20_000
