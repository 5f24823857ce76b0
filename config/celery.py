"""Celery carries wake-ups only; the database is the queue (see safety/outbox)."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from celery import Celery
from celery.signals import beat_init, worker_init
from django.conf import settings

from staff import guards

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("three-fifteen")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.set_default()
app.autodiscover_tasks()

# The embedded broker is a folder; kombu expects it to be there.
for _key in ("data_folder_in", "control_folder"):
    if _folder := settings.CELERY_BROKER_TRANSPORT_OPTIONS.get(_key):
        Path(_folder).mkdir(parents=True, exist_ok=True)


@worker_init.connect
@beat_init.connect
def refuse_without_guards(**_: Any) -> None:
    guards.require()
