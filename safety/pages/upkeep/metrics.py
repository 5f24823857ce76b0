"""Figures for a monitoring system, in the Prometheus text format or OpenMetrics 1.0, behind a key of its own.

Totals alone: no name, no site, and no count that would tell something about one of a few people.
"""

from __future__ import annotations

import logging
import secrets
from collections.abc import Iterator

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET
from prometheus_client import CollectorRegistry
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import choose_encoder

from safety.selectors.upkeep.status import Figures, figures

logger = logging.getLogger(__name__)
PREFIX = "three_fifteen"


class FromFigures:
    """A collector of one scrape: the database is read once, before it."""

    def __init__(self, found: Figures) -> None:
        self.found = found

    def collect(self) -> Iterator[Metric]:
        notices = GaugeMetricFamily(
            f"{PREFIX}_notices", "Notices by state and kind.", labels=["state", "kind"]
        )
        for (state, kind), rows in sorted(self.found.notices.items()):
            notices.add_metric([state, kind], rows)
        yield notices
        found = self.found
        for name, words, value in (
            (
                "oldest_due_notice_seconds",
                "Age of the oldest notice that is due and hasn't left.",
                found.oldest_due_age or 0,
            ),
            ("notices_refused_last_7_days", "Notices refused for good in seven days.", found.refused_lately),
            (
                "doses_overdue",
                "Planned doses past their window, where each course goes on.",
                found.doses_overdue,
            ),
            (
                "cases_without_visit",
                "Open cases that wait for a clinic visit.",
                found.cases_without_visit,
            ),
            (
                "courses_behind",
                "Courses whose plan doesn't follow from the record yet.",
                found.courses_behind,
            ),
        ):
            yield GaugeMetricFamily(f"{PREFIX}_{name}", words, value=value)
        if found.tick_age is not None:
            words = "Seconds since any service ticked; absent when none ever did."
            yield GaugeMetricFamily(f"{PREFIX}_last_tick_seconds", words, value=found.tick_age)


@never_cache
@login_not_required
@require_GET
def metrics(request: HttpRequest) -> HttpResponse:
    """404 without a METRICS_KEY, 401 without the right one in "Authorization: Bearer …", 503 without a database."""
    if not settings.METRICS_KEY:
        raise Http404
    given = request.headers.get("Authorization", "")
    if not secrets.compare_digest(given.encode(), f"Bearer {settings.METRICS_KEY}".encode()):
        return HttpResponse(status=401, headers={"WWW-Authenticate": "Bearer"})
    try:
        found = figures(timezone.now())
    except DatabaseError:
        logger.exception("The database does not answer.")
        return HttpResponse(status=503)
    registry = CollectorRegistry(auto_describe=False)
    registry.register(FromFigures(found))
    encoder, content_type = choose_encoder(request.headers.get("Accept", ""))
    return HttpResponse(encoder(registry), headers={"Content-Type": content_type})
