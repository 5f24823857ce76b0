"""How much is open at a site: numbers alone, for a mail that says no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count

from safety.models import Incident, Notice, PhoneMessage
from safety.rules.dose_due import overdue_from
from safety.rules.needs import NEEDS, Asked
from safety.selectors.cases import doses_due
from safety.selectors.needs import case_asks, with_needs
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
    found = [(site, each.due_on, each.late_from) for site, each in cases_asked(keys) if _counted(each)]
    found += [(dose.site, dose.due_on, dose.late_from) for dose in doses_ahead(keys, latest)]
    found += [
        (site, due_on, overdue_from(due_on=due_on, latest_on=due_on)) for site, due_on in animals_asked(days)
    ]
    for site, due_on, late_from in found:
        if late_from <= today[site]:
            late[site] += 1
        elif due_on <= today[site] + AHEAD:
            waiting[site] += 1
    waiting += _held(keys)
    refused = _notices(keys, today, state=Notice.State.FAILED)
    unanswered = _notices(keys, today, key__startswith="unanswered-")
    return {
        key: Summary(waiting[key], late[key], refused.get(key, 0), unanswered.get(key, 0)) for key in keys
    }


def summary_of(site: Site, today: date) -> Summary:
    return summaries({site: today})[site.pk]


def cases_asked(sites: list[int]) -> Iterable[tuple[int, Asked]]:
    """What the open cases of `sites` lack, each with the key of its site."""
    for incident in with_needs(Incident.objects.filter(closed_at__isnull=True, site__in=sites)):
        yield from ((incident.site_id, each) for each in case_asks(incident))


def _counted(each: Asked) -> bool:
    """A referral goes with its visit, and isn't counted beside it."""
    return NEEDS[each.code].subject is not None


def animals_asked(days: Mapping[Site, date]) -> Iterable[tuple[int, date]]:
    """What there is to ask about animals under watch; a missing check is late, today's is not."""
    sites = {site.pk: day for site, day in days.items()}
    for observation in unsettled_observations(Site.objects.filter(pk__in=sites)):
        site = observation.incident.site_id
        yield from ((site, ask.due_on) for ask in asks_of(observation, sites[site]))


@dataclass(frozen=True)
class DoseAhead:
    """A dose that isn't given: the key of its site, when it is due, and the first day on which it is overdue."""

    site: int
    due_on: date
    late_from: date


def doses_ahead(sites: list[int], today: date) -> list[DoseAhead]:
    # A day of slack, since the dates of the sites differ.
    around = doses_due(Site.objects.filter(pk__in=sites)).filter(
        due_on__lte=today + AHEAD + timedelta(days=1)
    )
    return [
        DoseAhead(
            dose.course.incident.site_id,
            dose.due_on,
            overdue_from(due_on=dose.due_on, latest_on=dose.latest_on),
        )
        for dose in around
    ]


def _held(sites: list[int]) -> Counter[int]:
    rows = PhoneMessage.objects.filter(state=PhoneMessage.State.HELD, link__person__site__in=sites)
    return Counter(rows.values_list("link__person__site", flat=True))


def _notices(sites: list[int], today: Mapping[int, date], **which: object) -> dict[int, int]:
    since = min(today.values(), default=date.min)
    rows = Notice.objects.filter(site__in=sites, send_on__gte=since - BACK if sites else since, **which)
    return dict(rows.order_by().values_list("site").annotate(rows=Count("pk")))
