"""Signs of life of whoever runs the tick."""

from __future__ import annotations

import logging
from datetime import datetime, timedelta

from django.db import DatabaseError, transaction

from safety.models import Heartbeat

logger = logging.getLogger(__name__)
# Not written more often: a tick that sends hundreds of mails passes here at each.
PAUSE = timedelta(seconds=15)


def heartbeat_note(*, name: str, now: datetime) -> None:
    """Note that the service `name` is at work. A sign that can't be written is logged and stops nothing."""
    try:
        with transaction.atomic():
            last = Heartbeat.objects.filter(name=name).values_list("at", flat=True).first()
            if last is None:
                # Two at once: one of them writes it.
                Heartbeat.objects.bulk_create([Heartbeat(name=name, at=now)], ignore_conflicts=True)
            elif abs(now - last) >= PAUSE:
                Heartbeat.objects.filter(name=name).update(at=now)
    except DatabaseError:
        logger.exception("The sign of life of %s can't be written", name)
