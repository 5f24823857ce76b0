"""Whether the service does its work: signs of life, what waits, and figures that name nobody and no site."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Q

from safety.models import Heartbeat, Notice
from safety.registry import Counted, find_kind
from safety.selectors.case.cases import courses_behind
from safety.selectors.case.needs import cases_wanting_visit
from safety.selectors.notices.notices import notices_visible_to, oldest_due_age
from safety.selectors.notices.summary import BACK, doses_ahead
from staff.models import Site, User

# Four ticks missed.
LATE_AFTER = timedelta(minutes=2)
# Somebody ran it once, by hand.
UNUSED_AFTER = timedelta(days=1)
# How figures name kinds that another release wrote.
UNKNOWN = "unknown"


@dataclass(frozen=True)
class ServiceSeen:
    """`late`: silent for two minutes; `unused`: silent for a day while another one ticks."""

    name: str
    at: datetime
    age: timedelta
    late: bool
    unused: bool


def last_tick_age(now: datetime) -> timedelta | None:
    """How long ago any service ticked; None when none ever did."""
    last = Heartbeat.objects.order_by("-at").values_list("at", flat=True).first()
    return max(now - last, timedelta()) if last else None


def services_seen(now: datetime) -> list[ServiceSeen]:
    rows = list(Heartbeat.objects.all())
    alive = any(now - row.at <= LATE_AFTER for row in rows)
    return [
        ServiceSeen(
            row.name,
            row.at,
            max(now - row.at, timedelta()),
            late=now - row.at > LATE_AFTER,
            unused=alive and now - row.at > UNUSED_AFTER,
        )
        for row in rows
    ]


def notices_by_state(user: User) -> dict[str, int]:
    """Of the sites as officer or liaison."""
    visible = notices_visible_to(user).order_by()
    return dict(visible.values_list("state").annotate(rows=Count("pk")))


def refused_lately(user: User, now: datetime) -> int:
    """Notices of the sites that were refused for good in the last seven days."""
    return notices_visible_to(user).filter(state=Notice.State.FAILED, settled_at__gte=now - BACK).count()


@dataclass(frozen=True)
class Figures:
    """Totals of the whole service; `notices` by state and kind; ages in seconds, None where there is nothing to measure."""

    notices: dict[tuple[str, str], int]
    oldest_due_age: float | None
    tick_age: float | None
    refused_lately: int
    doses_overdue: int
    cases_without_visit: int
    courses_behind: int


def figures(now: datetime) -> Figures:
    """The same number of queries however much there is."""
    counted: Counter[tuple[str, str]] = Counter()
    refused = 0
    lately = Count("pk", filter=Q(state=Notice.State.FAILED, settled_at__gte=now - BACK))
    for state, kind, rows, failed in (
        Notice.objects.order_by().values_list("state", "kind").annotate(rows=Count("pk"), failed=lately)
    ):
        counted[state, _group(kind)] += rows
        refused += failed
    today = {site.pk: site.local_date(now) for site in Site.objects.all()}
    doses = doses_ahead(list(today), max(today.values(), default=now.date()))
    due, tick = oldest_due_age(now), last_tick_age(now)
    return Figures(
        notices=dict(counted),
        oldest_due_age=due.total_seconds() if due is not None else None,
        tick_age=tick.total_seconds() if tick is not None else None,
        refused_lately=refused,
        doses_overdue=sum(dose.late(now) for dose in doses),
        cases_without_visit=len(cases_wanting_visit(Site.objects.all())),
        courses_behind=courses_behind().count(),
    )


def _group(kind: str) -> str:
    known = find_kind(kind)
    if known is None:
        return UNKNOWN
    return kind if known.counted_as is Counted.ALONE else known.counted_as
