"""A bite by a dog, and the dog under watch."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta

from safety.models import Incident, Observation
from safety.selectors.animal.observation import observation_of
from safety.services.animal.observation import check_record, observation_begin
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from tests.factories import Team

BITE = WoundReport("bitten", "hand", "yes", "yes")
DAY = timedelta(days=1)


def bitten(team: Team, now: datetime, animal: str = "dog-owned") -> Incident:
    """A bite of this minute."""
    report = IncidentReport(kind="bite", happened_at=now, wounds=(BITE,), animal=animal)
    return incident_report(
        actor=team.officer, person=team.person, key=uuid.uuid4(), report=report, now=now
    ).incident


def watched(team: Team, now: datetime) -> Observation:
    """Under watch from the minute of the bite: the last day is ten days later."""
    return observation_begin(
        actor=team.liaison,
        incident=bitten(team, now),
        described="brown dog, white paw",
        keeper="Test Keeper",
        keeper_phone="000 7",
        now=now,
    )


def check_days(team: Team, observation: Observation, start: datetime, *days: int, seen: str = "well") -> None:
    """A check by the liaison on each of these days after the bite, made on the day itself."""
    for number in days:
        now = start + number * DAY
        check_record(observation=observation, actor=team.liaison, day=local(team, now), seen=seen, now=now)


def local(team: Team, now: datetime) -> date:
    return team.site.local_date(now)


def again(observation: Observation) -> Observation:
    """As the database has it now."""
    found = observation_of(observation.incident)
    assert found is not None
    return found
