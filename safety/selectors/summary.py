"""How much is open at a site: numbers alone, for a mail that says no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count

from safety.models import Notice, PhoneMessage
from safety.selectors.cases import doses_due, incidents_unseen, needs_clinic
from safety.selectors.observation import asks_of, unsettled_observations
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
    """By the key of the site: what is open on that site's date. The same number of queries however much there is."""
    keys = [site.pk for site in days]
    today = {site.pk: day for site, day in days.items()}
    waiting: Counter[int] = Counter()
    late: Counter[int] = Counter()
    latest = max(today.values(), default=date.min)
    for site, due_on in [*unseen_cases(keys), *doses_ahead(keys, latest), *animals_asked(days)]:
        if due_on < today[site]:
            late[site] += 1
        elif due_on <= today[site] + AHEAD:
            waiting[site] += 1
    waiting += _held(keys)
    refused = _notices(keys, today, state=Notice.State.FAILED)
    unanswered = _notices(keys, today, about__isnull=False)
    return {
        key: Summary(waiting[key], late[key], refused.get(key, 0), unanswered.get(key, 0)) for key in keys
    }


def summary_of(site: Site, today: date) -> Summary:
    return summaries({site: today})[site.pk]


def unseen_cases(sites: list[int]) -> Iterable[tuple[int, date]]:
    """Open cases that call for a clinic and have no visit: due on the day it happened."""
    for incident in incidents_unseen().filter(site__in=sites).select_related("site"):
        if needs_clinic(incident):
            yield incident.site_id, incident.site.local_date(incident.happened_at)


def animals_asked(days: Mapping[Site, date]) -> Iterable[tuple[int, date]]:
    """What there is to ask about animals under watch; a missing check is late, today's is not."""
    sites = {site.pk: day for site, day in days.items()}
    for observation in unsettled_observations(Site.objects.filter(pk__in=sites)):
        site = observation.incident.site_id
        yield from ((site, ask.due_on) for ask in asks_of(observation, sites[site]))


def doses_ahead(sites: list[int], today: date) -> Iterable[tuple[int, date]]:
    # A day of slack, since the dates of the sites differ.
    around = doses_due(Site.objects.filter(pk__in=sites)).filter(
        due_on__lte=today + AHEAD + timedelta(days=1)
    )
    return [(dose.course.incident.site_id, dose.due_on) for dose in around]


def _held(sites: list[int]) -> Counter[int]:
    rows = PhoneMessage.objects.filter(state=PhoneMessage.State.HELD, link__person__site__in=sites)
    return Counter(rows.values_list("link__person__site", flat=True))


def _notices(sites: list[int], today: Mapping[int, date], **which: object) -> dict[int, int]:
    since = min(today.values(), default=date.min)
    rows = Notice.objects.filter(site__in=sites, send_on__gte=since - BACK if sites else since, **which)
    return dict(rows.order_by().values_list("site").annotate(rows=Count("pk")))
