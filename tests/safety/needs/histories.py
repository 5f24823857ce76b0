"""Cases lived through the services at random: reports early, late and twice, visits, doses, voids, closings."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from typing import Any

from django.utils import timezone

from safety.errors import Refused
from safety.models import Course, Decision, EndKind, Incident, Outcome, Seen, Visit
from safety.selectors.animal.observation import observation_of
from safety.selectors.case.need import Need
from safety.services.animal.observation import check_record, observation_begin, outcome_record
from safety.services.case.closing import incident_close, incident_reopen
from safety.services.case.referrals import referral_make, referral_void
from safety.services.case.visit_voids import visit_void
from safety.services.case.visits import visit_decide, visit_record
from safety.services.course.course import course_start
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end, course_resume
from safety.services.course.dose_voids import course_dose_void
from safety.services.course.plan import plans_catch_up
from staff.models import Dose, Person, Regimen
from tests.factories import Team
from tests.safety.phone.phones import Phone, phone_of

DAY = timedelta(days=1)
LICK = [{"contact": "licked-intact-skin", "body_site": "hand", "broke_skin": "no", "bled": "no"}]
# A day's changes of clocks lie inside a history: Berlin on 29 March 2026, New York on 8 March.
ZONES = ("Africa/Nairobi", "America/Lima", "Europe/Berlin", "America/New_York", "Pacific/Kiritimati")
REGIMENS = ("pep-im-0-3-7-14to28", "pep-im-0-3-7-14-28", "pep-immunised-im-0-3")
STEPS = (
    timedelta(minutes=7),
    timedelta(hours=5),
    timedelta(hours=11),
    DAY,
    2 * DAY,
    4 * DAY,
    8 * DAY,
)


@dataclass
class Life:
    """One case and the instant it has come to; `said` is what was done, for whoever reads a failure."""

    team: Team
    random: Random
    now: datetime
    about: uuid.UUID = field(default_factory=uuid.uuid4)
    phone: Phone | None = None
    happened_at: datetime | None = None
    said: list[str] = field(default_factory=list)
    # What the case needs at the instant that is looked at, asked once.
    known: tuple[Need, ...] = ()

    @property
    def incident(self) -> Incident:
        return Incident.objects.get(key=self.about)

    @property
    def today(self) -> date:
        return self.team.site.local_date(self.now)

    def some_day(self) -> date:
        """Today, or a day since it happened."""
        first = self.team.site.local_date(self.incident.happened_at)
        return first + self.random.randint(0, max(0, (self.today - first).days)) * DAY

    def course(self) -> Course | None:
        return self.incident.courses.first()

    def report(self, *, complete: bool, harmless: bool) -> None:
        assert self.phone is not None
        self.phone.now = self.now
        self.happened_at = self.happened_at or self.now - timedelta(minutes=5)
        changes: dict[str, Any] = {"kind": "lick", "wounds": LICK} if harmless else {"animal": "dog-owned"}
        changes["happened_at"] = self.happened_at.isoformat()
        self.phone.report(self.about, late=0, complete=complete, **changes)

    def do(self, name: str) -> None:
        """One act, refused or not, then what the next tick computes."""
        try:
            ACTS[name](self)
        except Refused as refusal:
            name = f"{name} refused ({refusal.code})"
        self.said.append(f"{self.now.isoformat()} {name}")
        plans_catch_up(now=self.now)

    def go_on(self, by: timedelta) -> None:
        self.now += by
        timezone.now = lambda: self.now  # type: ignore[assignment]

    def go_to_midnight(self, minutes: int) -> None:
        """So many minutes after the next midnight at the site, or before it."""
        at = datetime.combine(self.today + DAY, time(), self.team.site.zone).astimezone(UTC)
        self.go_on(max(at + timedelta(minutes=minutes) - self.now, timedelta(seconds=1)))


def begin(team: Team, random: Random, now: datetime) -> Life:
    """The person's link, and the site in one of the zones; nothing is reported yet."""
    team.site.time_zone = random.choice(ZONES)
    team.site.save()
    weak = random.random() < 0.2
    Person.objects.filter(pk=team.person.pk).update(immunocompromised=weak)
    team.person.refresh_from_db()
    life = Life(team, random, now)
    life.go_on(timedelta())
    life.phone = phone_of(team.person, team.officer, now)
    return life


def live(life: Life, look: Callable[[Life], None]) -> None:
    """Report, then act at random, and `look` after each act."""
    life.do(life.random.choice(("report", "draft", "harmless", "harmless draft")))
    look(life)
    for _turn in range(life.random.randint(5, 10)):
        if life.random.random() < 0.25:
            life.go_to_midnight(life.random.choice((-1, 0, 1)))
        else:
            life.go_on(life.random.choice(STEPS))
        life.do(life.random.choice(NAMES))
        look(life)


def _visit(life: Life) -> None:
    on = life.today if life.random.random() < 0.6 else life.some_day()
    visit_record(
        actor=life.team.liaison,
        incident=life.incident,
        clinic=life.team.clinic,
        visited_on=on,
        decision=life.random.choice(Decision.values),
        immunoglobulin=life.random.choice(("unknown", "no", "unavailable")),
        next_on=on + 9 * DAY if life.random.random() < 0.1 else None,
        now=life.now,
        confirmed=True,
    )


def _course_visit(life: Life) -> None:
    visit_record(
        actor=life.team.liaison,
        incident=life.incident,
        clinic=life.team.clinic,
        visited_on=life.today,
        decision=Decision.COURSE,
        now=life.now,
    )
    _start(life)


def _start(life: Life) -> None:
    regimen = Regimen.objects.get(code=life.random.choice(REGIMENS), version=1)
    course_start(
        actor=life.team.liaison,
        incident=life.incident,
        regimen=regimen,
        starts_on=life.today,
        now=life.now,
        confirmed=True,
    )


def _visit_void(life: Life) -> None:
    visit = life.incident.visits.order_by("?").first()
    if visit is not None:
        visit_void(actor=life.team.liaison, visit=visit, reason="of somebody else", now=life.now)


def _decide(life: Life) -> None:
    visit: Visit | None = life.incident.visits.filter(decision=Decision.PENDING).first()
    if visit is not None:
        decided = life.random.choice([one for one in Decision.values if one != Decision.PENDING])
        visit_decide(actor=life.team.liaison, visit=visit, decision=decided, now=life.now)


def _referral_void(life: Life) -> None:
    referral = life.incident.referrals.first()
    if referral is not None:
        referral_void(actor=life.team.liaison, referral=referral, reason="wrong clinic", now=life.now)


def _dose(life: Life) -> None:
    course = life.course()
    if course is not None:
        course_dose_record(
            actor=life.team.liaison,
            course=course,
            given_on=life.today,
            route="IM",
            now=life.now,
            confirmed=True,
        )


def _dose_void(life: Life) -> None:
    course = life.course()
    dose = Dose.objects.filter(course_key=course.key, voided_at=None).last() if course else None
    if course is not None and dose is not None:
        course_dose_void(actor=life.team.liaison, course=course, dose=dose, reason="not his", now=life.now)


def _end(life: Life) -> None:
    course = life.course()
    if course is not None:
        course_end(
            actor=life.team.liaison,
            course=course,
            ended_on=life.today,
            kind=life.random.choice(EndKind.values),
            reason="as the clinician said",
            said_by="Dr Test",
            now=life.now,
        )


def _resume(life: Life) -> None:
    course = life.course()
    if course is not None:
        course_resume(actor=life.team.liaison, course=course, reason="goes on", now=life.now)


def _check(life: Life) -> None:
    observation = observation_of(life.incident)
    if observation is not None:
        seen = life.random.choice(Seen.values)
        check_record(
            observation=observation, actor=life.team.liaison, day=life.today, seen=seen, now=life.now
        )


def _outcome(life: Life) -> None:
    observation = observation_of(life.incident)
    if observation is not None:
        outcome_record(
            actor=life.team.liaison,
            observation=observation,
            outcome=life.random.choice((Outcome.ESCAPED, Outcome.DIED, Outcome.SAMPLED, Outcome.FOUND)),
            known_on=life.today,
            now=life.now,
        )


def _close(life: Life, *, without_details: bool) -> None:
    incident_close(
        actor=life.team.officer,
        incident=life.incident,
        reason="Nothing more to do.",
        now=life.now,
        without_details=without_details,
    )


ACTS: dict[str, Callable[[Life], None]] = {
    "report": lambda life: life.report(complete=True, harmless=False),
    "draft": lambda life: life.report(complete=False, harmless=False),
    "harmless": lambda life: life.report(complete=True, harmless=True),
    "harmless draft": lambda life: life.report(complete=False, harmless=True),
    "refer": lambda life: _made(
        referral_make(actor=life.team.liaison, incident=life.incident, clinic=life.team.clinic, now=life.now)
    ),
    "void the referral": _referral_void,
    "visit": _visit,
    "visit and course": _course_visit,
    "void the visit": _visit_void,
    "decide": _decide,
    "course": _start,
    "dose": _dose,
    "void the dose": _dose_void,
    "end the course": _end,
    "resume": _resume,
    "watch": lambda life: _made(
        observation_begin(
            actor=life.team.liaison, incident=life.incident, described="brown dog", now=life.now
        )
    ),
    "check": _check,
    "outcome": _outcome,
    "close": lambda life: _close(life, without_details=False),
    "close without details": lambda life: _close(life, without_details=True),
    "reopen": lambda life: _made(
        incident_reopen(actor=life.team.officer, incident=life.incident, reason="New word.", now=life.now)
    ),
}
# What leads somewhere comes more often.
NAMES = (*ACTS, "visit", "visit and course", "dose", "dose", "dose", "report", "close without details")


def _made(_row: object) -> None:
    """The row itself is read anew where it is looked at."""
