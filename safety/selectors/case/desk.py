"""The desk: what waits for an officer or liaison, across cases, people and clinics."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from safety.models import Clinic, Incident, Observation
from safety.rules.case.needs import NeedCode
from safety.rules.clinic.clinic_choice import is_stale
from safety.rules.notices.follow_up import Audience
from safety.selectors.case.cases import incidents_listed_for
from safety.selectors.case.need import Need
from safety.selectors.case.needs import needs_of
from safety.selectors.clinic.clinics import clinics_kept_by
from safety.selectors.notices.unanswered import Unanswered, unanswered_now
from staff.models import User
from staff.selectors.access import LIAISON, OFFICER, sites_as

# How far ahead the desk looks.
COMING = timedelta(days=14)


@dataclass(frozen=True)
class Task:
    """One need of one case. `days`: how many days since it was due, or (negative) still ahead; None without a date."""

    incident: Incident
    need: Need
    days: int | None


@dataclass(frozen=True)
class Desk:
    """Tasks by haste. `undated`: those of no date that wait for nobody's health, such as closing a case."""

    late: list[Task]
    today: list[Task]
    coming: list[Task]
    undated: list[Task]
    clinics: list[Clinic]
    unanswered: list[Unanswered]

    @property
    def empty(self) -> bool:
        return not (self.late or self.today or self.coming or self.undated or self.clinics or self.unanswered)


def desk_of(user: User, now: datetime) -> Desk:
    """Every need of the cases `user` follows that is for somebody with the user's roles there.

    By each site's own calendar, the longest late first.
    """
    desk = Desk([], [], [], [], clinics_to_ask(user, now), unanswered_of(user, now))
    officer_at = set(sites_as(user, OFFICER).values_list("pk", flat=True))
    for incident in _cases(user):
        for need in needs_of(incident, now):
            if need.for_whom != {Audience.OFFICER} or incident.site_id in officer_at:
                _place(desk, _task(incident, need, now))
    for tasks in (desk.late, desk.today, desk.coming):
        tasks.sort(key=_by_date)
    return desk


def _cases(user: User) -> QuerySet[Incident]:
    """Open ones, and those of which a laboratory still has to answer though they are closed."""
    watched = Observation.objects.filter(incident=OuterRef("pk"), voided_at__isnull=True)
    listed = incidents_listed_for(user).filter(Q(closed_at__isnull=True) | Exists(watched))
    return listed.order_by("happened_at", "pk")


def cases_awaiting_clinic(user: User, now: datetime) -> list[Incident]:
    """Open cases that need a step of the clinic's side: no dose of theirs is planned yet."""
    open_cases = incidents_listed_for(user).filter(closed_at__isnull=True).order_by("happened_at", "pk")
    return [
        incident for incident in open_cases if any(need.row.of_clinic for need in needs_of(incident, now))
    ]


def _task(incident: Incident, need: Need, now: datetime) -> Task:
    today = incident.site.local_date(now)
    return Task(incident, need, None if need.due_on is None else (today - need.due_on).days)


def _by_date(task: Task) -> date:
    return task.need.due_on or date.min


def _place(desk: Desk, task: Task) -> None:
    if task.need.late:
        desk.late.append(task)
    elif task.need.code is NeedCode.WASH or (task.days is not None and task.days >= 0):
        desk.today.append(task)
    elif task.days is None:
        desk.undated.append(task)
    elif -task.days <= COMING.days:
        desk.coming.append(task)


def unanswered_of(user: User, now: datetime) -> list[Unanswered]:
    """Mails of the sites as officer or liaison that nobody has said to have seen in time."""
    return [each for site in sites_as(user, OFFICER, LIAISON) for each in unanswered_now(site, now)]


def clinics_to_ask(user: User, now: datetime) -> list[Clinic]:
    """Clinics in use whose last word on their stock is older than the site relies on; never asked first."""
    stale = [
        clinic
        for clinic in clinics_kept_by(user).filter(active=True)
        if is_stale(
            (clinic.site.local_date(now) - clinic.confirmed_on).days if clinic.confirmed_on else None,
            clinic.site.rules.clinic_news_days,
        )
    ]
    return sorted(stale, key=lambda clinic: (clinic.confirmed_on or date.min, clinic.name))
