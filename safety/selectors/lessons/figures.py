"""The follow-up of one site in a period, as counts: n of m and no rates, for a site's numbers are small.

A dose counts by its due date as planned now.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q

from safety.models import Course, Incident, Notice, PlannedDose
from safety.rules.lessons.figures import DoseFigures, DueDose, dose_figures
from staff.models import Site


@dataclass(frozen=True)
class Incidents:
    reported: int
    open: int


@dataclass(frozen=True)
class Courses:
    """Started in the period: those that run, ended with every dose given, or ended before with a reason."""

    started: int
    running: int
    complete: int
    ended_before: int


@dataclass(frozen=True)
class NoticesOfKind:
    """Notices of one kind, how many are in each state, and of how many somebody said that they were seen."""

    kind: str
    written: int
    by_state: dict[str, int]
    acknowledged: int


@dataclass(frozen=True)
class FollowUp:
    incidents: Incidents
    courses: Courses
    doses: DoseFigures
    notices: list[NoticesOfKind]


def follow_up_figures(site: Site, first: date, last: date, today: date) -> FollowUp:
    """Everything that happened, began or was due from `first` to `last`, dates of the site's own calendar.

    The number of queries doesn't depend on how much there is.
    """
    return FollowUp(
        incidents=_incidents(site, first, last),
        courses=_courses(site, first, last),
        doses=_doses(site, first, last, today),
        notices=_notices(site, first, last),
    )


def _between(field: str, site: Site, first: date, last: date) -> dict[str, datetime]:
    """The instants from the site's midnight of `first` up to that after `last`."""
    start, end = (datetime.combine(day, time(), site.zone) for day in (first, last + timedelta(days=1)))
    return {f"{field}__gte": start, f"{field}__lt": end}


def _incidents(site: Site, first: date, last: date) -> Incidents:
    happened = Incident.objects.filter(site=site, **_between("happened_at", site, first, last))
    found = happened.aggregate(reported=Count("pk"), open=Count("pk", filter=Q(closed_at__isnull=True)))
    return Incidents(**found)


def _courses(site: Site, first: date, last: date) -> Courses:
    missing = PlannedDose.objects.filter(course=OuterRef("pk"), given_on__isnull=True)
    ended = Q(ended_on__isnull=False)
    started = Course.objects.filter(incident__site=site, **_between("started_at", site, first, last))
    found = started.annotate(missing=Exists(missing)).aggregate(
        started=Count("pk"),
        running=Count("pk", filter=~ended),
        complete=Count("pk", filter=ended & Q(missing=False)),
        ended_before=Count("pk", filter=ended & Q(missing=True)),
    )
    return Courses(**found)


def _doses(site: Site, first: date, last: date, today: date) -> DoseFigures:
    rows = PlannedDose.objects.filter(course__incident__site=site, due_on__range=(first, last))
    values = rows.order_by().values_list("due_on", "latest_on", "given_on", "course__ended_on")
    return dose_figures(
        (
            DueDose(due_on, latest_on, given_on, ended_on is not None)
            for due_on, latest_on, given_on, ended_on in values
        ),
        today=today,
    )


def _notices(site: Site, first: date, last: date) -> list[NoticesOfKind]:
    due: dict[str, Any] = _between("due_at", site, first, last)
    counted = (
        Notice.objects.filter(site=site, **due)
        .order_by("kind")
        .values_list("kind", "state")
        .annotate(rows=Count("pk"), seen=Count("acknowledged_at"))
    )
    found: dict[str, dict[str, int]] = {}
    acknowledged: Counter[str] = Counter()
    for kind, state, rows, seen in counted:
        found.setdefault(kind, dict.fromkeys(Notice.State.values, 0))[state] = rows
        acknowledged[kind] += seen
    return [
        NoticesOfKind(kind, sum(states.values()), states, acknowledged[kind])
        for kind, states in found.items()
    ]
