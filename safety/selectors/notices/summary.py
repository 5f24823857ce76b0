"""How much is open at a site: numbers alone, for a mail that says no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Q

from safety.models import Course, Notice, PhoneMessage
from safety.rules.course.dose_due import overdue_from
from safety.rules.notices.local_time import due_at
from safety.selectors.animal.observation import asks_of, unsettled_observations
from safety.selectors.case.cases import doses_due
from safety.selectors.case.needs import cases_wanting_visit
from staff.models import Site

AHEAD = timedelta(days=7)
# A refusal or a silence older than this has been told and is on the pages.
BACK = timedelta(days=7)


@dataclass(frozen=True)
class Summary:
    """`waiting`: steps of today and the next seven days; `late`: those of before; mails refused or unanswered in a week."""

    waiting: int
    late: int
    refused: int
    unanswered: int

    def __bool__(self) -> bool:
        return any((self.waiting, self.late, self.refused, self.unanswered))


def summaries(days: Mapping[Site, date]) -> dict[int, Summary]:
    """By the key of the site: what is open on that site's date at its hour of notices, doses by the calendar where each
    course goes on. The same number of queries however much there is."""
    keys = [site.pk for site in days]
    today = {site.pk: day for site, day in days.items()}
    waiting: Counter[int] = Counter()
    late: Counter[int] = Counter()
    latest = max(today.values(), default=date.min)
    wanting = cases_wanting_visit(Site.objects.filter(pk__in=keys))
    found = [(incident.site_id, each.due_on, each.late_from) for incident, each in wanting]
    found += [
        (site, due_on, overdue_from(due_on=due_on, latest_on=due_on)) for site, due_on in animals_asked(days)
    ]
    asked = [(site, due_on, late_from <= today[site]) for site, due_on, late_from in found]
    hours = {site.pk: _at_its_hour(site, day) for site, day in days.items()}
    asked += [(dose.site, dose.due_on, dose.late(hours[dose.site])) for dose in doses_ahead(keys, latest)]
    for site, due_on, is_late in asked:
        if is_late:
            late[site] += 1
        elif due_on <= today[site] + AHEAD:
            waiting[site] += 1
    waiting += _held(keys)
    told = _notices(keys, today)
    return {key: Summary(waiting[key], late[key], *told.get(key, (0, 0))) for key in keys}


def _at_its_hour(site: Site, day: date) -> datetime:
    return due_at(local_date=day, hour=site.rules.notice_hour, zone=site.zone)


def summary_of(site: Site, today: date) -> Summary:
    return summaries({site: today})[site.pk]


def animals_asked(days: Mapping[Site, date]) -> Iterable[tuple[int, date]]:
    """What there is to ask about animals under watch; a missing check is late, today's is not."""
    sites = {site.pk: day for site, day in days.items()}
    for observation in unsettled_observations(Site.objects.filter(pk__in=sites)):
        site = observation.incident.site_id
        yield from ((site, ask.due_on) for ask in asks_of(observation, sites[site]))


@dataclass(frozen=True)
class DoseAhead:
    """A dose that isn't given: the key of its site, its course, when it is due, and the first day on which it is overdue."""

    site: int
    course: Course
    due_on: date
    late_from: date

    def late(self, now: datetime) -> bool:
        """By the calendar where the course goes on, as everywhere."""
        return self.late_from <= self.course.local_date(now)


def doses_ahead(sites: list[int], today: date) -> list[DoseAhead]:
    # A day of slack, since the dates of the sites differ.
    around = doses_due(Site.objects.filter(pk__in=sites)).filter(
        due_on__lte=today + AHEAD + timedelta(days=1)
    )
    return [
        DoseAhead(
            dose.course.incident.site_id,
            dose.course,
            dose.due_on,
            overdue_from(due_on=dose.due_on, latest_on=dose.latest_on),
        )
        for dose in around
    ]


def _held(sites: list[int]) -> Counter[int]:
    rows = PhoneMessage.objects.filter(state=PhoneMessage.State.HELD, link__person__site__in=sites)
    rows = rows.exclude(kind=PhoneMessage.COUNT)
    return Counter(rows.values_list("link__person__site", flat=True))


def _notices(sites: list[int], today: Mapping[int, date]) -> dict[int, tuple[int, int]]:
    """By the key of the site: how many were refused for good and how many unanswered, in the last days."""
    since = min(today.values(), default=date.min)
    rows = Notice.objects.filter(site__in=sites, send_on__gte=since - BACK if sites else since).order_by()
    counted = rows.values_list("site").annotate(
        refused=Count("pk", filter=Q(state=Notice.State.FAILED)),
        unanswered=Count("pk", filter=Q(about__isnull=False)),
    )
    return {site: (refused, unanswered) for site, refused, unanswered in counted}
