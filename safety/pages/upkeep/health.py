"""Ready or not, for whoever watches the service. Nothing here names a person or a site."""

from __future__ import annotations

import logging
from datetime import timedelta

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache

from safety.selectors.notices.notices import oldest_due_age
from safety.selectors.upkeep.status import last_tick_age
from staff import guards

logger = logging.getLogger(__name__)
LONGEST_WAIT = timedelta(minutes=10)
LONGEST_SILENCE = timedelta(minutes=5)


@never_cache
@login_not_required
def healthz(request: HttpRequest) -> JsonResponse:  # noqa: ARG001
    """200 when ready, else 503: no database, guards missing, a notice more than ten minutes past its hour, or
    something due while the tick, which had run, has been silent for five minutes.

    A silent tick with nothing due is no failure, so a web server alone, or one just started, doesn't flap.
    """
    now = timezone.now()
    try:
        missing = guards.missing(connection)
        age = oldest_due_age(now) if not missing else None
        tick = last_tick_age(now) if not missing else None
    except DatabaseError:
        logger.exception("The database does not answer.")
        answer: dict[str, object] = {
            "ready": False,
            "database": "no answer",
            "guards": [],
            "oldest_due_notice_seconds": None,
        }
        answer["last_tick_seconds"] = None
        return JsonResponse(answer, status=503)
    silent = age is not None and tick is not None and tick > LONGEST_SILENCE
    ready = not missing and not silent and (age is None or age <= LONGEST_WAIT)
    return JsonResponse(
        {
            "ready": ready,
            "database": "answers",
            "guards": missing or "in place",
            "oldest_due_notice_seconds": int(age.total_seconds()) if age is not None else None,
            "last_tick_seconds": int(tick.total_seconds()) if tick is not None else None,
        },
        status=200 if ready else 503,
    )
