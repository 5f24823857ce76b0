"""Ringing for a worker. Losing a ring costs at most one tick: the database is the queue."""

from __future__ import annotations

import logging
from functools import partial

from celery import Celery
from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string
from kombu.exceptions import OperationalError

logger = logging.getLogger(__name__)
ANSWER_SECONDS = 2


def ring(task: str, *args: int) -> None:
    """Wake a worker for `task` once the transaction has committed."""
    transaction.on_commit(partial(_send, task, args))


def bell_answers() -> bool:
    """Whether the broker answers within seconds. One that doesn't costs at most a tick."""
    app: Celery = import_string(settings.WAKE_UP_APP)
    try:
        with app.connection_for_write() as connection:
            patience = {"socket_timeout": ANSWER_SECONDS, "socket_connect_timeout": ANSWER_SECONDS}
            connection.transport_options = {**(connection.transport_options or {}), **patience}
            connection.ensure_connection(max_retries=1, interval_start=0, timeout=ANSWER_SECONDS)
    except (OperationalError, OSError) as error:
        logger.warning("No broker answers: %s", error)
        return False
    return True


def _send(task: str, args: tuple[int, ...]) -> None:
    app: Celery = import_string(settings.WAKE_UP_APP)
    try:
        app.send_task(task, args=args, expires=60, retry=False)
    except (OperationalError, OSError) as error:
        logger.warning("No broker to ring (%s); the next tick does %s.", error, task)
