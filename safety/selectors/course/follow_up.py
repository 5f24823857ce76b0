"""Doses after an exposure that are still to be given, and what needs an officer or liaison now.

An overdue dose keeps nobody off a roster. The pages of `staff` show it through partials of the shell
(config/templates/_follow_up.html), for `staff` knows nothing of `safety`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from safety.models import Course, Incident, PhoneMessage, PlannedDose
from safety.rules.course.dose_due import is_overdue
from safety.selectors.case.cases import doses_due, incidents_visible_to
from safety.selectors.case.need import Need
from safety.selectors.case.needs import cases_wanting_visit
from safety.selectors.course.course_needs import dose_asked
from safety.selectors.course.course_places import Place, place_of
from safety.selectors.phone.phone import messages_held_for
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
    """How many cases wait for a clinic visit, which follow-up doses are overdue and whose, how many reports and
    counts wait for a name."""

    unseen: int
    overdue: list[Need]
    people_overdue: frozenset[int]
    held: int
    counts: int

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
    sites = sites_as(user, OFFICER, LIAISON)
    # A day of slack: the calendar where the course goes on decides, and it may be ahead of UTC's.
    due = doses_due(sites).filter(due_on__lte=now.date() + timedelta(days=1))
    late = [(dose, need) for dose in due if (need := dose_asked(dose, now)).late]
    waits = messages_held_for(user).values_list("kind", flat=True) if sites_as(user, OFFICER).exists() else ()
    counts = sum(kind == PhoneMessage.COUNT for kind in waits)
    return NeedsNow(
        unseen=len(cases_wanting_visit(sites)),
        overdue=[need for _dose, need in late],
        people_overdue=frozenset(dose.course.person_id for dose, _need in late),
        held=len(waits) - counts,
        counts=counts,
    )
