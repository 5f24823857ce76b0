"""A course that runs stays on its version, whatever becomes of the version."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

import pytest

from safety.models import Course, Incident
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from staff.ground.errors import Invalid
from staff.models import Regimen, RegimenApproval
from staff.services.regimen.approvals import regimen_withdraw
from staff.services.regimen.regimen_drafts import regimen_retire
from tests.factories import Team
from tests.staff.regimen_scenes import approve_by, second_officer, submitted_of


def _seen(team: Team, now: datetime) -> Incident:
    """A bite whose clinic visit ordered a course."""
    wounds = (WoundReport(contact="bitten", broke_skin="yes", bled="yes"),)
    report = IncidentReport(
        kind="bite", happened_at=now - timedelta(hours=1), wounds=wounds, washed_minutes=15
    )
    made = incident_report(actor=team.lead, person=team.person, key=uuid.uuid4(), report=report, now=now)
    visit_record(
        actor=team.liaison,
        incident=made.incident,
        clinic=team.clinic,
        visited_on=team.site.local_date(now),
        decision="course",
        clinician="Test Clinician",
        now=now,
    )
    return made.incident


def _start(team: Team, incident: Incident, regimen: Regimen, now: datetime) -> Course:
    return course_start(
        actor=team.liaison, incident=incident, regimen=regimen, starts_on=team.site.local_date(now), now=now
    )


def test_a_course_goes_on_by_its_version_when_that_is_withdrawn_replaced_and_retired(
    team: Team, now: datetime
) -> None:
    """Five doses on days 0, 3, 7, 14 and 28: WHO position paper, WER 2010;85(32):309-320."""
    first, today = team.post_exposure, team.site.local_date(now)
    course = _start(team, _seen(team, now), first, now)
    course_dose_record(actor=team.liaison, course=course, given_on=today, place="Test Clinic", now=now)
    for approval in RegimenApproval.objects.filter(regimen=first):
        officer = team.officer if approval.site == team.site else team.stranger
        regimen_withdraw(actor=officer, approval=approval, why="replaced", now=now)
    second = submitted_of(team, now, first.code)
    approve_by(second_officer(team), team, second, now)
    regimen_retire(actor=team.officer, regimen=first, why="replaced", now=now)
    later = now + timedelta(days=3)
    course_dose_record(
        actor=team.liaison, course=course, given_on=today + timedelta(days=3), place="Test Clinic", now=later
    )
    course_plan(course_id=course.pk, now=later)
    course.refresh_from_db()
    assert course.regimen == first
    planned = list(course.planned_doses.values_list("day", "due_on", "given_on"))
    assert [(day, (due - today).days) for day, due, _given in planned] == [
        (0, 0),
        (3, 3),
        (7, 7),
        (14, 14),
        (28, 28),
    ]
    assert [given is not None for _day, _due, given in planned] == [True, True, False, False, False]


def test_a_new_course_can_not_start_on_a_version_that_was_withdrawn(team: Team, now: datetime) -> None:
    incident = _seen(team, now)
    approval = RegimenApproval.objects.get(site=team.site, regimen=team.post_exposure)
    regimen_withdraw(actor=team.officer, approval=approval, why="replaced", now=now)
    with pytest.raises(Invalid) as refused:
        _start(team, incident, team.post_exposure, now)
    assert set(refused.value.fields) == {"regimen"}
