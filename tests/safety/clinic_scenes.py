"""A bite, its visits and its course at the moments a test names; everything through the services."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from typing import Any

from safety.models import Course, Incident, Visit
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start, course_start_named
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from staff.models import Person
from tests.factories import Team

BITE = WoundReport("bitten", "hand", "yes", "yes")


def bite(team: Team, at: datetime, person: Person | None = None) -> Incident:
    report = IncidentReport(kind="bite", happened_at=at, wounds=(BITE,), animal="dog-roaming")
    return incident_report(
        actor=team.officer, person=person or team.person, key=uuid.uuid4(), report=report, now=at
    ).incident


def seen(team: Team, incident: Incident, now: datetime, **changed: Any) -> Visit:
    said: dict[str, Any] = {
        "clinic": team.clinic,
        "visited_on": incident.site.local_date(now),
        "decision": "course",
    }
    return visit_record(actor=team.liaison, incident=incident, now=now, **(said | changed))


def begun(team: Team, at: datetime, *, planned: bool = True, **changed: Any) -> Course:
    """A course of five doses (days 0, 3, 7, 14, 28) after a bite of that moment, seen at once."""
    incident = bite(team, at)
    seen(team, incident, at)
    said = {"regimen": team.post_exposure, "starts_on": incident.site.local_date(at)} | changed
    course = course_start(actor=team.liaison, incident=incident, now=at, **said)
    return course_plan(course_id=course.pk, now=at) if planned else course


def begun_by_name(team: Team, at: datetime, *days: int) -> Course:
    """A course on dates the clinic wrote, so many days after the bite."""
    incident = bite(team, at)
    seen(team, incident, at)
    first = incident.site.local_date(at)
    course = course_start_named(
        actor=team.liaison,
        incident=incident,
        regimen_name="as the clinician wrote it",
        dates=[first + timedelta(days=day) for day in days],
        now=at,
    )
    return course_plan(course_id=course.pk, now=at)


def give(team: Team, course: Course, day: date, now: datetime, *, plan: bool = True, **changed: Any) -> None:
    """One dose, recorded at `now`, and the plan after it."""
    course_dose_record(actor=team.liaison, course=course, given_on=day, now=now, **changed)
    if plan:
        course_plan(course_id=course.pk, now=now)


def due(course: Course) -> list[tuple[int, date, date | None]]:
    """Number, due date and date given of every planned dose."""
    return [(dose.number, dose.due_on, dose.given_on) for dose in course.planned_doses.all()]
