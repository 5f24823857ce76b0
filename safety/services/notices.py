"""The follow-up plan as rows: which notices should exist, reconciled against what waits."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet

from safety.models import Course, Notice
from safety.outbox.states import State, move
from safety.rules.follow_up import DEFAULT_PLAN, Audience, PlannedDose, WantedNotice, wanted_notices
from safety.rules.local_time import due_at
from safety.selectors.cases import courses_running
from safety.selectors.recipients import Recipient, audience_of, outing_watchers
from staff.models import Site, Withdrawal


def course_notices_reconcile(*, courses: Iterable[Course], now: datetime) -> None:
    """Make the notices of each course what its plan asks for at `now`: add, withdraw, revive. Repeating changes nothing."""
    for course in courses:
        wanted = _wanted_rows(course, now)
        standing = {row.key: row for row in Notice.objects.filter(course=course)}
        with transaction.atomic():
            _add([row for key, row in wanted.items() if key not in standing])
            for key, row in standing.items():
                if key not in wanted and row.state == State.WAITING:
                    move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)
                elif key in wanted and row.state == State.WITHDRAWN:
                    move(
                        row,
                        State.WAITING,
                        now=now,
                        why="needed again",
                        settled_at=None,
                        next_try_at=row.due_at,
                    )


def wanted_of(course: Course, now: datetime) -> tuple[WantedNotice, ...]:
    doses = [
        PlannedDose(step=dose.number, due_on=dose.due_on, given_on=dose.given_on)
        for dose in course.planned_doses.all()
    ]
    return wanted_notices(
        doses=doses,
        plan=DEFAULT_PLAN,
        today=course.incident.site.local_date(now),
        ended=course.ended_on is not None,
    )


def _wanted_rows(course: Course, now: datetime) -> dict[str, Notice]:
    readers = {audience: audience_of(course.incident, audience) for audience in Audience}
    rows = (
        _dose_notice(course, wanted, reader, now)
        for wanted in wanted_of(course, now)
        for reader in readers[wanted.audience]
    )
    return {row.key: row for row in rows}


def _dose_notice(course: Course, wanted: WantedNotice, reader: Recipient, now: datetime) -> Notice:
    incident = course.incident
    key = f"course-{course.pk}:{wanted.step}:{wanted.due_on}:{wanted.stage}:{wanted.send_on}:{reader.tag}:{reader.email}"
    return _notice(
        key=key[:160],
        kind=wanted.stage,
        site=incident.site,
        reader=reader,
        send_on=wanted.send_on,
        when_on=wanted.due_on,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience=wanted.audience,
        now=now,
        incident=incident,
        course=course,
        step=wanted.step,
    )


def _notice(
    *, site: Site, reader: Recipient, send_on: date, now: datetime, hour: int | None = None, **fields: object
) -> Notice:
    hour = site.rules.notice_hour if hour is None else hour
    when = due_at(local_date=send_on, hour=hour, zone=site.zone)
    return Notice(
        site=site,
        user=reader.user,
        person=reader.person,
        email=reader.email,
        language=reader.language,
        send_on=send_on,
        send_hour=hour,
        zone=site.time_zone,
        due_at=when,
        next_try_at=when,
        message_id=f"<{uuid.uuid4()}@{urlsplit(settings.PUBLIC_URL).hostname}>",
        created_at=now,
        **fields,
    )


def _add(rows: list[Notice]) -> None:
    # The unique key makes two planners at once harmless.
    Notice.objects.bulk_create(rows, ignore_conflicts=True)


def withdrawals_untold(now: datetime) -> QuerySet[Withdrawal]:
    """Withdrawals made by rule from outings still ahead, about which nobody has been written to."""
    earliest_today = (now - timedelta(days=1)).date()
    return Withdrawal.objects.filter(
        by_rule=True, notices__isnull=True, outing__date__gte=earliest_today
    ).select_related("outing__site__rules")


def roster_notices_add(*, now: datetime) -> None:
    """Tell the officer and the crew lead, at once, about everybody a rule took off a roster."""
    for row in withdrawals_untold(now):
        site = row.outing.site
        today = site.local_date(now)
        if row.outing.date < today:
            continue
        _add(
            [
                _notice(
                    key=f"withdrawal-{row.pk}:{reader.tag}",
                    kind="roster-change",
                    site=site,
                    reader=reader,
                    send_on=today,
                    hour=0,
                    when_on=row.outing.date,
                    reference=f"R{row.pk}",
                    path=f"/outings/{row.outing_id}/",
                    audience="roster",
                    now=now,
                    withdrawal=row,
                )
                for reader in outing_watchers(row.outing)
            ]
        )


def notices_reconcile(*, now: datetime) -> None:
    """The tick's sweep: every running course, and withdrawals nobody was told about."""
    course_notices_reconcile(
        courses=courses_running().filter(planned_recorded__isnull=False).prefetch_related("planned_doses"),
        now=now,
    )
    roster_notices_add(now=now)


def still_true(notice: Notice, now: datetime) -> bool:
    """Asked at the moment of sending: does the record still want this notice, for this reader?"""
    if notice.course is None:
        return True
    return notice.key in _wanted_rows(notice.course, now)
