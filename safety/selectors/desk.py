"""The desk: what waits for an officer or liaison, across cases, people and clinics."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from safety.models import Clinic, Incident
from safety.rules.clinic_choice import is_stale
from safety.selectors.cases import courses_unlisted, incidents_listed_for, next_steps
from safety.selectors.clinics import clinics_kept_by
from safety.selectors.observation import animals_to_check
from safety.selectors.steps import NextStep
from safety.selectors.unanswered import Unanswered, unanswered_now
from staff.models import User
from staff.selectors.access import LIAISON, OFFICER, sites_as

# How far ahead the desk looks.
COMING = timedelta(days=14)


@dataclass(frozen=True)
class Task:
    """One step of one case. `days`: how many days it is late, or (negative) still ahead; None without a date."""

    incident: Incident
    step: NextStep
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
    """Every next step of the open cases `user` follows, and what there is to ask about animals.

    By each site's own calendar, the longest late first.
    """
    desk = Desk([], [], [], [], clinics_to_ask(user, now), unanswered_of(user, now))
    open_cases = incidents_listed_for(user).filter(closed_at__isnull=True).order_by("happened_at", "pk")
    for incident in open_cases:
        for step in next_steps(incident, now):
            _place(desk, _task(incident, step, now))
    for course in courses_unlisted(user):
        words = _("Course on a regimen the table lacks, %(name)s: ask the authority about it.")
        step = NextStep("unlisted", words % {"name": course.name}, course.incident.site.local_date(now))
        _place(desk, _task(course.incident, step, now))
    for animal in animals_to_check(user, now):
        step = NextStep(f"animal-{animal.code}", animal.words, animal.due_on, animal.overdue)
        _place(desk, _task(animal.observation.incident, step, now))
    for tasks in (desk.late, desk.today, desk.coming):
        tasks.sort(key=_by_date)
    return desk


def _task(incident: Incident, step: NextStep, now: datetime) -> Task:
    today = incident.site.local_date(now)
    return Task(incident, step, None if step.due_on is None else (today - step.due_on).days)


def _by_date(task: Task) -> date:
    return task.step.due_on or date.min


def _place(desk: Desk, task: Task) -> None:
    if task.step.overdue:
        desk.late.append(task)
    elif task.step.code == "wash" or (task.days is not None and task.days >= 0):
        desk.today.append(task)
    elif task.days is None:
        desk.undated.append(task)
    elif -task.days <= COMING.days:
        desk.coming.append(task)


def unanswered_of(user: User, now: datetime) -> list[Unanswered]:
    """Mails of the sites as officer or liaison that nobody has said to have seen in time."""
    return [each for site in sites_as(user, OFFICER, LIAISON) for each in unanswered_now(site, now)]


def clinics_to_ask(user: User, now: datetime) -> list[Clinic]:
    """Clinics in use that nobody has asked about their stock for a week; never asked first."""
    stale = [
        clinic
        for clinic in clinics_kept_by(user).filter(active=True)
        if is_stale((clinic.site.local_date(now) - clinic.confirmed_on).days if clinic.confirmed_on else None)
    ]
    return sorted(stale, key=lambda clinic: (clinic.confirmed_on or date.min, clinic.name))
