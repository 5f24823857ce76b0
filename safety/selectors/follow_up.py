"""Doses after an exposure that are still to be given, and what needs an officer or liaison now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef

from safety.models import Course, Incident, PlannedDose
from safety.rules.dose_due import is_overdue
from safety.rules.needs import NeedCode
from safety.selectors.cases import incidents_listed_for, incidents_visible_to
from safety.selectors.course_places import Place, place_of
from safety.selectors.needs import Need, may_wait_for_visit, needs_of
from safety.selectors.phone import messages_held_for
from staff.models import Hold, Person, User
from staff.selectors.access import OFFICER, sites_as


@dataclass(frozen=True)
class DoseToCome:
    """`dose` is None while the dates of the course are being computed; `clinic` is where the course goes on."""

    incident: Incident
    dose: PlannedDose | None
    clinic: Place | None
    overdue: bool


@dataclass(frozen=True)
class NeedsNow:
    """How many cases wait for a clinic visit, which follow-up doses are overdue and whose, how many reports wait for
    a name."""

    unseen: int
    overdue: list[Need]
    people_overdue: frozenset[int]
    held: int

    def __bool__(self) -> bool:
        return bool(self.unseen or self.overdue or self.held)


def doses_to_come(user: User, person: Person, now: datetime) -> list[DoseToCome]:
    """The rest of the running courses of `person` whose cases `user` may see, soonest first in each."""
    courses = (
        Course.objects.filter(person=person, ended_on__isnull=True)
        .filter(incident__in=incidents_visible_to(user).order_by().values("pk"))
        .select_related("incident__site", "clinic")
        .prefetch_related("planned_doses", "incident__visits__clinic")
    )
    return [row for course in courses for row in _rest_of(course, course.local_date(now))]


def _rest_of(course: Course, today: date) -> list[DoseToCome]:
    incident, clinic = course.incident, place_of(course)
    if course.planned_recorded is None:
        return [DoseToCome(incident, None, clinic, overdue=False)]
    return [
        DoseToCome(incident, dose, clinic, overdue=_overdue(dose, today))
        for dose in course.planned_doses.all()
        if dose.given_on is None
    ]


def hold_case(user: User, hold: Hold) -> Incident | None:
    """The case that placed `hold`, where `user` may see it."""
    kind, _colon, key = hold.source.partition(":")
    return incidents_visible_to(user).filter(key=key).first() if kind == "incident" else None


def _overdue(dose: PlannedDose, today: date) -> bool:
    return is_overdue(due_on=dose.due_on, latest_on=dose.latest_on, today=today)


def needs_now(user: User, now: datetime) -> NeedsNow:
    """What an officer or liaison must not overlook on any page; the same number of queries however much there is."""
    unseen, overdue, people = 0, [], set()
    for incident in _pressing(user, now):
        whose = {course.pk: course.person_id for course in incident.courses.all()}
        needs = needs_of(incident, now)
        unseen += any(need.code is NeedCode.VISIT for need in needs)
        late = [need for need in needs if need.code is NeedCode.DOSE and need.late]
        overdue += late
        people |= {whose[need.course] for need in late if need.course is not None}
    held = messages_held_for(user).count() if sites_as(user, OFFICER).exists() else 0
    return NeedsNow(unseen, overdue, frozenset(people), held)


def _pressing(user: User, now: datetime) -> list[Incident]:
    """Open cases that may lack a visit or have a dose that is due: a superset, for reading few rows on every page."""
    # A day of slack: the calendar where the course goes on decides, and it may be ahead of UTC's.
    due = PlannedDose.objects.filter(
        course__incident=OuterRef("pk"),
        course__ended_on__isnull=True,
        given_on__isnull=True,
        due_on__lte=now.date() + timedelta(days=1),
    )
    listed = incidents_listed_for(user).filter(closed_at__isnull=True)
    return list(listed.filter(may_wait_for_visit() | Exists(due)).order_by("happened_at", "pk"))
