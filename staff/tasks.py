"""What Celery may call for the staff records. Every task can be lost, doubled or late without harm."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from staff.services.record.recompute import recompute_catch_up


@shared_task(name="staff.recompute")
def recompute() -> None:
    recompute_catch_up(now=timezone.now())
