"""Doses after an exposure that are still to be given, and what needs an officer or liaison now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from safety.models import Course, Incident, PhoneMessage, PlannedDose
from safety.selectors.cases import doses_due, incidents_unseen, incidents_visible_to, needs_clinic
from safety.selectors.course_places import Place, place_of
from safety.selectors.phone import messages_held_for
from staff.models import Hold, Person, User
from staff.selectors.access import LIAISON, OFFICER, sites_as


@dataclass(frozen=True)
class DoseToCome:
    """`dose` is None while the dates of the course are being computed; `clinic` is where the course goes on."""

    incident: Incident
    dose: PlannedDose | None
    clinic: Place | None
    overdue: bool


@dataclass(frozen=True)
class NeedsNow:
    """How many cases have no clinic visit, which follow-up doses are overdue, how many reports and counts wait for a name."""

    unseen: int
    overdue: list[PlannedDose]
    held: int
    counts: int

    @property
    def people_overdue(self) -> frozenset[int]:
        return frozenset(dose.course.person_id for dose in self.overdue)

    def __bool__(self) -> bool:
        return bool(self.unseen or self.overdue or self.held or self.counts)


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
        DoseToCome(incident, dose, clinic, overdue=dose.due_on < today)
        for dose in course.planned_doses.all()
        if dose.given_on is None
    ]


def hold_case(user: User, hold: Hold) -> Incident | None:
    """The case that placed `hold`, where `user` may see it."""
    kind, _colon, key = hold.source.partition(":")
    return incidents_visible_to(user).filter(key=key).first() if kind == "incident" else None


def _overdue(user: User, now: datetime) -> list[PlannedDose]:
    """Late doses of running courses at the sites as officer or liaison, each by the calendar where it goes on."""
    # A day of slack: that calendar decides, and it may be ahead of UTC's.
    around = doses_due(sites_as(user, OFFICER, LIAISON)).filter(due_on__lte=now.date() + timedelta(days=1))
    return [dose for dose in around if dose.due_on < dose.course.local_date(now)]


def needs_now(user: User, now: datetime) -> NeedsNow:
    """What an officer or liaison must not overlook on any page; the same number of queries however much there is."""
    unseen = incidents_unseen().filter(site__in=sites_as(user, OFFICER, LIAISON))
    waits = messages_held_for(user).values_list("kind", flat=True) if sites_as(user, OFFICER).exists() else ()
    counts = sum(kind == PhoneMessage.COUNT for kind in waits)
    return NeedsNow(
        unseen=sum(needs_clinic(incident) for incident in unseen),
        overdue=_overdue(user, now),
        held=len(waits) - counts,
        counts=counts,
    )
