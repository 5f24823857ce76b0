"""Who is out today with a crew lead: names and nothing of anybody's record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q

from staff.models import Assignment, CrewRole, Outing, User
from staff.selectors.access import LEAD, sites_as, sites_of
from staff.selectors.outing.on_crews import outings_of


@dataclass(frozen=True)
class CrewToday:
    """`ends_at` is the end of the site's day, when the list must be gone from a phone. `outing` is None for several;
    `outings` are all that are led, with what their crews are told."""

    date: date
    ends_at: datetime
    area: str
    outing: int | None
    people: list[tuple[int, str]]
    outings: list[Outing]


def crew_today(user: User, now: datetime) -> CrewToday:
    """The others on today's outings that `user` leads, or on all of the site's for whoever leads there."""
    sites = list(sites_of(user))
    site = next((site for site in sites_as(user, LEAD)), sites[0] if sites else None)
    day = site.local_date(now) if site else now.date()
    led = outings_of(person__user=user, role=CrewRole.LEAD)
    of_the_day = Outing.objects.filter(Q(pk__in=led) | Q(site__in=sites_as(user, LEAD))).filter(
        date=day, cancelled_at__isnull=True
    )
    taken = (
        Assignment.objects.filter(outing__in=of_the_day)
        .exclude(person__user=user)
        .select_related("person", "outing")
        .order_by("person__name", "person_id")
    )
    people = {one.person_id: one.person.name for one in taken}
    outings = {one.outing_id: one.outing.area for one in taken}
    ends = datetime.combine(day + timedelta(days=1), time(), tzinfo=site.zone if site else now.tzinfo)
    return CrewToday(
        date=day,
        ends_at=ends,
        area=", ".join(sorted(set(outings.values()))),
        outing=next(iter(outings)) if len(outings) == 1 else None,
        people=list(people.items()),
        outings=list(of_the_day.select_related("site").order_by("area", "pk")),
    )
