"""Six incidents at different stages."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from safety.demo.programme import CLINICS, COURSE_REGIMEN, IMMUNISED_REGIMEN, at
from safety.demo.telephones import telephone
from safety.models import Answer, Clinic, EndKind, Immunoglobulin, Incident
from safety.services.animal.observation import check_record, observation_begin
from safety.services.case.closing import incident_close
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.referrals import referral_make
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end
from staff.models import Person, Regimen, Site, User
from staff.selectors.record.immunisation import immunisation_before


@dataclass(frozen=True)
class Stage:
    """A case that began `days_ago`; `given` are the days after the first dose on which doses were given.

    Whether the person is immunised decides the course and, for who isn't, immunoglobulin and so the clinic.
    """

    days_ago: int
    report: IncidentReport
    referred: bool = True
    seen: bool = True
    immunised: bool = True
    given: tuple[int, ...] = ()
    closed: str = ""
    watched: bool = False


_NEVER = datetime(1970, 1, 1, tzinfo=UTC)  # replaced by the instant of each case
_BITE = IncidentReport(
    kind="bite",
    happened_at=_NEVER,
    wounds=(WoundReport("bitten", "hand", Answer.YES, Answer.YES),),
    animal="dog-roaming",
    task="collaring",
    causes=("hand-near-mouth",),
    washed_minutes=15,
    soap=Answer.YES,
    narrative="The collar slipped and the dog turned.",
)

STAGES = (
    # Reported this morning: washed too briefly, no clinic yet, so the person is held.
    Stage(
        0,
        replace(_BITE, washed_minutes=6, task="netting", causes=("head-out-of-net",)),
        referred=False,
        seen=False,
    ),
    # A course that runs to time: a dose is due tomorrow.
    Stage(2, _BITE, given=(0,)),
    # A dose is due today: the reminder is in the mailbox. The dog is watched; today's check is still to come.
    Stage(3, replace(_BITE, causes=("bare-hands",), animal="dog-owned"), given=(0,), watched=True),
    # New and on no crew yet: the full course, and its day-7 dose is overdue. Person, liaison and officer are told
    # every day.
    Stage(
        10,
        replace(
            _BITE,
            task="other",
            causes=("owner-lost-hold",),
            animal="dog-owned",
            narrative="A neighbour's dog ran up to the gate of the base and bit.",
        ),
        immunised=False,
        given=(0, 3),
    ),
    # A scratch of an immunised person: the short course is done, the case closed.
    Stage(
        20,
        replace(
            _BITE,
            kind="scratch",
            wounds=(WoundReport("scratched", "arm", Answer.NO, Answer.NO),),
            task="releasing",
            causes=("rough-handling",),
        ),
        given=(0, 3),
        closed="Both doses given; gloves are now checked before leaving.",
    ),
    # A near miss: nothing for the clinic, something to learn.
    Stage(
        5,
        replace(
            _BITE,
            kind="near-miss",
            wounds=(WoundReport("none", "unknown", Answer.NO, Answer.NO),),
            task="approaching",
            causes=("distracted",),
            washed_minutes=None,
            soap=Answer.UNKNOWN,
            narrative="A second dog came from behind while the net was out.",
        ),
        referred=False,
        seen=False,
    ),
)


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
        _run_course(incident, stage, liaison, seen_at, now)
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


def _run_course(incident: Incident, stage: Stage, liaison: User, seen_at: datetime, now: datetime) -> None:
    site, first = incident.site, incident.site.local_date(seen_at)
    course = course_start(
        actor=liaison,
        incident=incident,
        regimen=Regimen.objects.get(code=IMMUNISED_REGIMEN if stage.immunised else COURSE_REGIMEN, version=1),
        starts_on=first,
        now=seen_at,
    )
    for days in stage.given:
        given_on = first + timedelta(days=days)
        course_dose_record(
            actor=liaison,
            course=course,
            given_on=given_on,
            now=min(now, max(seen_at, at(site, given_on, 15))),
            product="Cell-culture vaccine (demo)",
            place=CLINICS[0 if stage.immunised else 1],
        )
    if stage.closed:
        course_end(
            actor=liaison,
            course=course,
            ended_on=given_on,
            kind=EndKind.COMPLETED,
            reason="All doses given.",
            now=now,
        )
