"""The follow-up plan as rows: which notices should exist, reconciled against what waits."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from safety.emails.build import SUMMARY
from safety.models import Course, Notice
from safety.rules.follow_up import Audience, PlannedDose, WantedNotice, wanted_notices
from safety.rules.notice_kinds import LEFT_WITHOUT, OF_A_CASE, OF_A_DOSE, UNANSWERED
from safety.selectors.asked_once import asked_once
from safety.selectors.cases import courses_running
from safety.selectors.outing_known import PEOPLE_KINDS
from safety.selectors.plans import plan_of
from safety.selectors.recipients import Recipient, audience_of
from safety.services.animal_notices import ANIMAL_WORD, animal_notices_reconcile, animal_word_still_true
from safety.services.case_notices import case_notice_still_true, case_notices_reconcile
from safety.services.clinic_notices import CLINIC_LACKS, clinic_notice_still_true
from safety.services.community_notices import (
    COMMUNITY_KINDS,
    community_notice_still_true,
    community_notices_reconcile,
)
from safety.services.departure_notices import departure_notices_reconcile, left_without_still_true
from safety.services.held_notices import HELD_REPORT, held_notices_reconcile, held_report_still_true
from safety.services.incident_notices import (
    NEW_REPORT,
    incident_notices_reconcile,
    new_report_still_true,
)
from safety.services.invitations import invitation_still_true, invitations_reconcile
from safety.services.notice_rows import bring_in_line, new_notice
from safety.services.people_notices import people_notice_still_true, people_notices_reconcile
from safety.services.record_notices import RECORD_KINDS, record_notices_reconcile, record_rows
from safety.services.roster_notices import roster_notices_add
from safety.services.summary_notices import summary_notices_reconcile, summary_still_true
from safety.services.unanswered import unanswered_reconcile, unanswered_still_true
from staff.services.transactions import retried

logger = logging.getLogger(__name__)


def course_notices_reconcile(*, courses: Iterable[Course], now: datetime) -> None:
    """Make the notices of each course what its plan asks for at `now`: add, withdraw, revive, move to the hour
    and zone the site has now. Repeating changes nothing."""
    for course in courses:
        _reconcile(course, now)


@retried
def _reconcile(course: Course, now: datetime) -> None:
    wanted = _wanted_rows(course, now)
    with transaction.atomic():
        standing = {row.key: row for row in Notice.objects.filter(course=course, kind__in=OF_A_DOSE)}
        bring_in_line(wanted, standing, now)


def wanted_of(course: Course, now: datetime) -> tuple[WantedNotice, ...]:
    doses = [
        PlannedDose(step=dose.number, due_on=dose.due_on, given_on=dose.given_on, latest_on=dose.latest_on)
        for dose in course.planned_doses.all()
    ]
    plan = plan_of(course.incident.site)
    # The member by the calendar where the course goes on, the desk by its own: each date then comes for each reader.
    return tuple(
        wanted
        for today, here in ((course.local_date(now), True), (course.incident.site.local_date(now), False))
        for wanted in wanted_notices(doses=doses, plan=plan, today=today, ended=course.ended_on is not None)
        if (wanted.audience == Audience.MEMBER) is here
    )


def _wanted_rows(course: Course, now: datetime) -> dict[str, Notice]:
    readers = {
        audience: audience_of(course.incident, audience, now, place_zone=course.time_zone)
        for audience in Audience
    }
    rows = (
        _dose_notice(course, wanted, reader, now)
        for wanted in wanted_of(course, now)
        for reader in readers[wanted.audience]
    )
    return {row.key: row for row in rows}


def _dose_notice(course: Course, wanted: WantedNotice, reader: Recipient, now: datetime) -> Notice:
    incident = course.incident
    key = f"course-{course.pk}:{wanted.step}:{wanted.due_on}:{wanted.stage}:{wanted.send_on}:{reader.mark}"
    return new_notice(
        key=key,
        kind=wanted.stage,
        site=incident.site,
        reader=reader,
        send_on=wanted.send_on,
        hour=wanted.hour,
        when_on=wanted.due_on,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience=wanted.audience,
        now=now,
        incident=incident,
        course=course,
        step=wanted.step,
    )


def notices_reconcile(*, now: datetime) -> None:
    """The tick's sweep: every running course, and withdrawals nobody was told about. One bad row never stops it."""
    with asked_once():
        _sweep(now)


def _sweep(now: datetime) -> None:
    planned = courses_running().filter(planned_recorded__isnull=False)
    for course in planned.prefetch_related("planned_doses"):
        try:
            course_notices_reconcile(courses=[course], now=now)
        except Exception:
            logger.exception("The notices of course %s can't be brought up to date", course.pk)
    for sweep, failure in (
        (incident_notices_reconcile, "New reports can't be told"),
        (case_notices_reconcile, "What cases wait for can't be told"),
        (animal_notices_reconcile, "Words about animals can't be told"),
        (held_notices_reconcile, "Reports that wait for a name can't be told"),
        (roster_notices_add, "Withdrawals can't be told"),
        (people_notices_reconcile, "People on outings can't be told what changed"),
        (community_notices_reconcile, "Officers can't be told of what the community wasn't told"),
        (departure_notices_reconcile, "Crews that left without something can't be told"),
        (record_notices_reconcile, "The dates of records can't be told"),
        (invitations_reconcile, "Invitations to sessions can't be brought up to date"),
        (summary_notices_reconcile, "The daily summaries can't be brought up to date"),
        (unanswered_reconcile, "Notices nobody has seen can't be passed on"),
    ):
        try:
            sweep(now=now)
        except Exception:
            logger.exception(failure)


def still_true(notice: Notice, now: datetime) -> bool:
    """Asked at the moment of sending: does the record still want this notice, for this reader?"""
    if notice.kind in RECORD_KINDS:
        return notice.key in record_rows(now, of=notice)
    if notice.kind in OF_A_CASE:
        return case_notice_still_true(notice, now)
    if notice.kind == UNANSWERED:
        return unanswered_still_true(notice)
    if notice.kind == NEW_REPORT:
        return new_report_still_true(notice, now)
    if notice.kind == ANIMAL_WORD:
        return animal_word_still_true(notice, now)
    if notice.kind == HELD_REPORT:
        return held_report_still_true(notice)
    if notice.kind == LEFT_WITHOUT:
        return left_without_still_true(notice, now)
    if notice.kind == SUMMARY:
        return summary_still_true(notice, now)
    if notice.kind in COMMUNITY_KINDS:
        return community_notice_still_true(notice, now)
    if notice.kind in PEOPLE_KINDS:
        return people_notice_still_true(notice, now)
    if notice.kind == CLINIC_LACKS:
        return clinic_notice_still_true(notice)
    if notice.session is not None:
        return invitation_still_true(notice, now)
    if notice.course is None:
        return True
    return notice.key in _wanted_rows(notice.course, now)
