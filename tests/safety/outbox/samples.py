"""Notices and courses for the tests of the outbox."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from safety.models import Course, Decision, Incident, Notice, PlannedDose, Visit
from safety.models.case.choices import Animal, ContactKind
from safety.notices.course.dose import DOSES
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from safety.services.course.plan import course_plan
from staff.models import Campaign, Person, Regimen, Session, SessionPlace, Site
from tests.factories import PRE_EXPOSURE, Team, make_user

DAY = timedelta(days=1)


def make_notice(site: Site, due: datetime, now: datetime, **changes: object) -> Notice:
    name = uuid.uuid4().hex
    values: dict[str, object] = {
        "key": name,
        "kind": "roster-change",
        "site": site,
        "reference": "R1",
        "path": "/outings/1/",
        "audience": "roster",
        "email": "reader@example.org",
        "send_on": due.date(),
        "send_hour": 0,
        "zone": site.time_zone,
        "when_on": due.date(),
        "due_at": due,
        "next_try_at": due,
        "message_id": f"<{name}@example.org>",
        "created_at": now,
    }
    return Notice.objects.create(**(values | changes))


def make_due_today(site: Site, now: datetime, email: str = "reader@example.org", **changes: object) -> Notice:
    """A notice that a dose is due today, of a course of somebody of their own, so that it is wanted; due `now`."""
    name, today = uuid.uuid4().hex, site.local_date(now)
    person = Person.objects.create(site=site, number=name[:12], name="Test Person", email=email)
    by = make_user(name[:20])
    incident = Incident.objects.create(
        reference=name[:6], site=site, person=person, reported_by=by, reported_at=now, happened_at=now
    )
    course = Course.objects.create(
        incident=incident,
        person=person,
        regimen_name="as the clinic wrote",
        late_rule=site.rules.late_rule,
        starts_on=today,
        started_by=by,
        started_at=now,
        planned_recorded=0,
        planned_voided=0,
    )
    PlannedDose.objects.create(course=course, number=1, day=0, due_on=today, latest_on=today)
    (row,) = (row for row in DOSES.wanted(course, now).values() if row.email == email)
    about = {
        "kind": row.kind,
        "key": row.key,
        "incident": incident,
        "course": course,
        "step": 1,
        "person": person,
    }
    values: dict[str, object] = {"audience": "member", "email": email, **about}
    return make_notice(site, now, now, **(values | changes))


def make_course(team: Team, now: datetime, starts_on: date | None = None) -> Course:
    """A running course of five visits (days 0, 3, 7, 14, 28) of the team's member, planned."""
    report = IncidentReport(
        kind="bite",
        happened_at=now - timedelta(hours=1),
        wounds=(WoundReport(contact=ContactKind.BITTEN, body_site="hand", broke_skin="yes", bled="yes"),),
        animal=Animal.DOG_ROAMING,
        narrative="A brown dog by the well bit through the glove.",
    )
    reported = incident_report(
        actor=team.officer, person=team.person, key=uuid.uuid4(), report=report, now=now
    )
    # The desk was told at once; what follows from here on is about the course.
    Notice.objects.filter(incident=reported.incident).delete()
    today = team.site.local_date(now)
    Visit.objects.create(
        incident=reported.incident,
        clinic=team.clinic,
        visited_on=today,
        clinician="Dr Test",
        decision=Decision.COURSE,
        recorded_by=team.liaison,
        recorded_at=now,
    )
    course = Course.objects.create(
        incident=reported.incident,
        person=team.person,
        regimen=team.post_exposure,
        late_rule=team.site.rules.late_rule,
        starts_on=starts_on or today,
        started_by=team.liaison,
        started_at=now,
    )
    return course_plan(course_id=course.pk, now=now)


def make_session(team: Team, now: datetime, people: Iterable[Person]) -> Session:
    """A session in five days at 9:30 at which `people` are expected."""
    today = team.site.local_date(now)
    campaign = Campaign.objects.create(
        site=team.site,
        name="Long rains",
        starts_on=today + 60 * DAY,
        regimen=Regimen.objects.get(code=PRE_EXPOSURE, version=1),
        route="IM",
        place="Lakeside Infirmary",
        created_by=team.officer,
        created_at=now,
    )
    made = Session.objects.create(
        campaign=campaign,
        site=team.site,
        held_on=today + 5 * DAY,
        opens_at=time(9, 30),
        place="Lakeside Infirmary",
        planned_by=team.officer,
        planned_at=now,
        changed_at=now,
    )
    for person in people:
        SessionPlace.objects.create(session=made, person=person, number=1)
    return made
