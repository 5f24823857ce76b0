"""What Celery may call. The database is the queue: every task can be lost, doubled or late without harm."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from safety.services.course.plan import course_plan
from safety.services.notices.sending import send_due
from safety.services.notices.tick import tick as run_tick


@shared_task(name="safety.tick")
def tick() -> None:
    run_tick(clock=timezone.now, beat="worker")


@shared_task(name="safety.plan_course")
def plan_course(course_id: int) -> None:
    course_plan(course_id=course_id, now=timezone.now())
    send_due(clock=timezone.now)
