"""Six incidents at different stages."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from safety.demo.programme import COURSE_REGIMEN, IMMUNISED_REGIMEN, at
from safety.models import Answer, Clinic, EndKind, Incident
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


@dataclass(frozen=True)
class Stage:
    """A case that began `days_ago`; `given` are the days after the first dose on which doses were given."""

    days_ago: int
    report: IncidentReport
    referred: bool = True
    seen: bool = True
    regimen: str = COURSE_REGIMEN
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
    # The day-7 dose is overdue: person, liaison and officer are told every day.
    Stage(10, replace(_BITE, task="holding", causes=("owner-lost-hold",), animal="dog-owned"), given=(0, 3)),
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
        regimen=IMMUNISED_REGIMEN,
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


def make_cases(site: Site, people: list[Person], officer: User, liaison: User, now: datetime) -> None:
    """One case of each stage for one person each; `people` needs as many as there are stages."""
    for stage, person in zip(STAGES, people, strict=False):
        _make_case(site, stage, person, officer, liaison, now)


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
    clinic = Clinic.objects.filter(site=site).order_by("pk")[0]
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
            immunoglobulin=Answer.NO,
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
        keeper_phone="000-341",
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
        regimen=Regimen.objects.get(code=stage.regimen, version=1),
        starts_on=first,
        # The invented clinic orders a whole course for somebody immunised too, and its paper says so.
        confirmed=True,
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
            place="Hill Road Clinic",
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
