"""Reports and cases for page tests. Pages read the real clock, so everything here lies around the real now."""

from __future__ import annotations

import re
import uuid
from datetime import datetime, timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from safety.models import Course, Incident
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start
from safety.services.course.plan import course_plan
from staff.models import User
from tests.factories import Team

BITE = WoundReport("bitten", "hand", "yes", "yes")


def signed_in_as(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def answers(team: Team, **changed: Any) -> dict[str, Any]:
    """What a member's browser sends for a bite of this minute."""
    local = timezone.now().astimezone(team.site.zone)
    return {
        "key": str(uuid.uuid4()),
        "kind": "bite",
        "day": local.date().isoformat(),
        "clock": local.strftime("%H:%M"),
        "contact": "",
        "body_site": "hand",
        "broke_skin": "yes",
        "bled": "unknown",
        "washed_minutes": "",
        "soap": "unknown",
        "animal": "dog-roaming",
        "task": "collaring",
        "causes": ["bare-hands"],
        "narrative": "",
        "wash_started_at": "",
        "wash_stopped_at": "",
    } | changed


def make_case(team: Team, *, days_ago: int = 0, **changed: Any) -> Incident:
    """A bite of the member, reported by the officer."""
    now = timezone.now()
    happened = now - timedelta(days=days_ago)
    said = {"kind": "bite", "happened_at": happened, "wounds": (BITE,)} | changed
    return incident_report(
        actor=team.officer,
        person=team.person,
        key=uuid.uuid4(),
        report=IncidentReport(**said),
        now=now,
    ).incident


def see_clinic(team: Team, incident: Incident, decision: str = "course") -> None:
    visit_record(
        actor=team.liaison,
        incident=incident,
        clinic=team.clinic,
        visited_on=incident.site.local_date(incident.happened_at),
        decision=decision,
        now=timezone.now(),
    )


def start_course(team: Team, incident: Incident, *, planned: bool = True) -> Course:
    """A course whose first dose is expected on the day of the bite."""
    see_clinic(team, incident)
    course = course_start(
        actor=team.liaison,
        incident=incident,
        regimen=team.post_exposure,
        starts_on=incident.site.local_date(incident.happened_at),
        now=timezone.now(),
    )
    return course_plan(course_id=course.pk, now=timezone.now()) if planned else course


def text_of(response: Any) -> str:
    """What a reader sees, on one line: no tags, single blanks."""
    html = re.sub(r"<(script|style)\b.*?</\1>", " ", response.content.decode(), flags=re.S)
    text = re.sub(r"<[^>]+>", " ", html)
    return re.sub(r"\s+", " ", text.replace("&#x27;", "'").replace("&#39;", "'"))


def real_now() -> datetime:
    return timezone.now()
