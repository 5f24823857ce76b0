"""Dates of the records of people who are with the team: those coming up, and those that passed undone."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import F, Min, Q, QuerySet

from safety.models import Course
from safety.rules.notices.follow_up import LOOK_AHEAD
from staff.models import PersonDue, Site

# Somewhere it is still yesterday, somewhere already tomorrow.
SLACK = timedelta(days=1)


def dues_that_count() -> QuerySet[PersonDue]:
    """Dates of people who are still with the team on them. While a course after a bite runs, the doses before
    field work wait: the clinician's dates come first (decided here)."""
    here = Q(person__active_until__isnull=True) | Q(person__active_until__gte=F("due_on"))
    in_course = Course.objects.filter(ended_on__isnull=True).values("person")
    return PersonDue.objects.filter(here).exclude(kind=PersonDue.Kind.DOSE, person__in=in_course)


def dues_coming(today: date) -> QuerySet[PersonDue]:
    """Those a notice may be wanted for around `today` (UTC): a window on the index, whatever the number of people."""
    window = dues_that_count().filter(due_on__gte=today - SLACK, due_on__lte=today + LOOK_AHEAD + SLACK)
    return window.select_related("person__site__rules", "person__user").order_by("due_on", "pk")


def first_late(site: Site, today: date) -> date | None:
    """The earliest date at the site that passed undone, of people still with the team on `today`."""
    late = dues_that_count().filter(person__site=site, due_on__lt=today)
    here = Q(person__active_until__isnull=True) | Q(person__active_until__gte=today)
    first: date | None = late.filter(here).aggregate(first=Min("due_on"))["first"]
    return first
