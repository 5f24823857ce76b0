"""Six incidents at different stages."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from safety.demo.courses import run_course
from safety.demo.programme import CLINICS, at
from safety.demo.stages import STAGES, Stage
from safety.demo.telephones import telephone
from safety.models import Clinic, Immunoglobulin, Incident
from safety.services.animal.observation import check_record, observation_begin
from safety.services.case.closing import incident_close
from safety.services.case.referrals import referral_make
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from staff.models import Person, Site, User
from staff.selectors.record.immunisation import immunisation_before


def make_cases(
    site: Site, people: Sequence[Person], officer: User, liaison: User, now: datetime
) -> list[Person]:
    """One case of each stage for one of `people` each: who is immunised by the site's rules, or has no dose at all.

    Gives back the latter: their course takes the place of a series.
    """
    long_ago = site.local_date(now) - timedelta(days=max(stage.days_ago for stage in STAGES))
    before = {person: immunisation_before(person, long_ago) for person in people}
    immunised = iter(
        [person for person in people if before[person].complete_on and not before[person].lapses]
    )
    others = iter([person for person in people if not person.doses.exists()])
    bitten = [(stage, next(immunised if stage.immunised else others)) for stage in STAGES]
    for stage, person in bitten:
        _make_case(site, stage, person, officer, liaison, now)
    return [person for stage, person in bitten if not stage.immunised]


def _make_case(site: Site, stage: Stage, person: Person, officer: User, liaison: User, now: datetime) -> None:
    day = site.local_date(now) - timedelta(days=stage.days_ago)
    happened_at = min(at(site, day, 9), now - timedelta(minutes=40))
    told_at = min(now, happened_at + timedelta(minutes=30))
    incident = incident_report(
        actor=officer,
        person=person,
        key=uuid.uuid4(),
        report=replace(stage.report, happened_at=happened_at),
        now=told_at,
    ).incident
    clinic = Clinic.objects.get(site=site, name=CLINICS[0 if stage.immunised else 1])
    if stage.referred:
        referral_make(actor=officer, incident=incident, clinic=clinic, now=told_at)
    if stage.seen:
        seen_at = min(now, told_at + timedelta(hours=2))
        visit_record(
            actor=liaison,
            incident=incident,
            clinic=clinic,
            visited_on=site.local_date(seen_at),
            decision="course",
            clinician="Clinician on duty",
            immunoglobulin=Immunoglobulin.NOT_GIVEN if stage.immunised else Immunoglobulin.GIVEN,
            immunoglobulin_on=None if stage.immunised else site.local_date(seen_at),
            now=seen_at,
        )
        run_course(incident, stage, liaison, seen_at, now)
    if stage.watched:
        _watch_dog(incident, liaison, told_at, now)
    if stage.closed:
        incident_close(actor=officer, incident=incident, reason=stage.closed, now=now)


def _watch_dog(incident: Incident, liaison: User, told_at: datetime, now: datetime) -> None:
    observation = observation_begin(
        actor=liaison,
        incident=incident,
        described="Brown dog with a white paw",
        where="Behind the mill",
        keeper="The miller",
        keeper_phone=telephone(200),
        now=told_at,
    )
    day, today = observation.first_on + timedelta(days=1), incident.site.local_date(now)
    while day < today:
        evening = min(now, at(incident.site, day, 18))
        check_record(observation=observation, actor=liaison, day=day, seen="well", now=evening)
        day += timedelta(days=1)
