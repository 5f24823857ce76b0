"""The follow-up plan as rows: which notices should exist, reconciled against what waits."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from safety.emails.build import SUMMARY
from safety.models import Course, Notice
from safety.outbox.claims import retime, settle
from safety.outbox.states import State, move
from safety.rules.follow_up import Audience, PlannedDose, WantedNotice, wanted_notices
from safety.rules.notice_kinds import DIGEST, OF_A_CASE, OF_A_DOSE, UNANSWERED, UNDELIVERED, Level, level_of
from safety.selectors.asked_once import asked_once
from safety.selectors.cases import courses_running
from safety.selectors.plans import plan_of
from safety.selectors.recipients import Recipient, audience_of, everybody_of, outing_watchers
from safety.selectors.unanswered import readers_at
from safety.services.animal_notices import ANIMAL_WORD, animal_notices_reconcile, animal_word_still_true
from safety.services.case_notices import case_notice_still_true, case_notices_reconcile
from safety.services.held_notices import HELD_REPORT, held_notices_reconcile, held_report_still_true
from safety.services.incident_notices import (
    NEW_REPORT,
    incident_notices_reconcile,
    new_report_still_true,
)
from safety.services.invitations import invitation_still_true, invitations_reconcile
from safety.services.notice_rows import add_notices, bring_up, new_notice, timing
from safety.services.record_notices import RECORD_KINDS, record_notices_reconcile, record_rows
from safety.services.summary_notices import summary_notices_reconcile, summary_still_true
from safety.services.unanswered import unanswered_reconcile, unanswered_still_true
from staff.models import Withdrawal
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
        bring_up(wanted, standing, now)
        for key, row in standing.items():
            if row.state != State.WAITING:
                continue
            if key not in wanted:
                move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)
            elif (row.due_at, row.zone) != (wanted[key].due_at, wanted[key].zone):
                retime(row, **timing(wanted[key]))


def wanted_of(course: Course, now: datetime) -> tuple[WantedNotice, ...]:
    doses = [
        PlannedDose(step=dose.number, due_on=dose.due_on, given_on=dose.given_on)
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


def notice_fail(*, notice: Notice, why: str, now: datetime) -> bool:
    """End a claim as refused for good and, in the same transaction, have the next contacts told.

    False when the claim was lost.
    """
    with transaction.atomic():
        if not settle(notice, State.FAILED, now=now, why=why):
            return False
        tell_undelivered(notice=notice, now=now)
    return True


def notice_bounced(*, notice: Notice, why: str, now: datetime) -> bool:
    """A mail that had left came back: refused for good after all, and told on like any other. False when it moved on."""
    with transaction.atomic():
        if not move(notice, State.FAILED, now=now, why=why, settled_at=now, last_error=why[:500]):
            return False
        for member in Notice.objects.filter(digest=notice, state=State.SENT):
            move(member, State.FAILED, now=now, why=why, settled_at=now, last_error=why[:500])
        tell_undelivered(notice=notice, now=now)
    return True


def tell_undelivered(*, notice: Notice, now: datetime) -> None:
    """Have the next contacts told of a refused notice, or whoever of the office is left; once for each refusal.

    A refused mail of this kind starts no further one: each of them gets it.
    """
    if notice.kind == UNDELIVERED:
        return
    told = _told_of_refusal(notice, now)
    if not told:
        logger.error("Notice %s was refused for good and the site has nobody else to tell.", notice.pk)
    add_notices([_undelivered(notice, reader, level, now) for level, reader in told])


def _told_of_refusal(notice: Notice, now: datetime) -> list[tuple[Level, Recipient]]:
    """The officers; of a member's mail the liaisons too; with no other officer, the further contact and whoever is left."""
    member = level_of(notice.audience) == Level.MEMBER
    found: dict[str, tuple[Level, Recipient]] = {}
    for level in (Level.OFFICER, *((Level.LIAISON,) if member else ())):
        _add_others(found, notice, level, readers_at(notice.site, level, now))
    if not found:
        _add_others(found, notice, Level.FURTHER, readers_at(notice.site, Level.FURTHER, now))
        _add_others(found, notice, Level.OFFICER, everybody_of(notice.site))
    return list(found.values())


def _add_others(
    found: dict[str, tuple[Level, Recipient]], notice: Notice, level: Level, readers: list[Recipient]
) -> None:
    for reader in readers:
        if reader.email.casefold() != notice.email.casefold():
            found.setdefault(reader.email.casefold(), (level, reader))


def _undelivered(notice: Notice, reader: Recipient, level: Level, now: datetime) -> Notice:
    refusals = notice.events.filter(new=State.FAILED).count()
    return new_notice(
        # Refused again after it was sent again, it is told again.
        key=f"undelivered-{notice.pk}:{reader.tag}{f':{refusals}' if refusals > 1 else ''}",
        kind=UNDELIVERED,
        site=notice.site,
        reader=reader,
        send_on=notice.site.local_date(now),
        hour=0,
        when_on=notice.when_on,
        reference=notice.reference,
        # Of several in one mail each is named in the list of what was refused.
        path="/notices/?state=failed" if notice.kind == DIGEST else notice.path,
        audience=level,
        now=now,
        incident=notice.incident,
    )


def withdrawals_untold(now: datetime) -> QuerySet[Withdrawal]:
    """Withdrawals made by rule from outings still ahead, about which nobody has been written to."""
    # A day back: somewhere it is still yesterday by UTC.
    return Withdrawal.objects.filter(
        by_rule=True, notices__isnull=True, outing__date__gte=now.date() - timedelta(days=1)
    ).select_related("outing__site__rules")


def roster_notices_add(*, now: datetime) -> None:
    """Tell the officer and the crew lead, at once, about everybody a rule took off a roster."""
    for row in withdrawals_untold(now):
        if row.outing.date < row.outing.site.local_date(now):
            continue
        add_notices([_roster_notice(row, reader, now) for reader in outing_watchers(row.outing, now)])


def _roster_notice(row: Withdrawal, reader: Recipient, now: datetime) -> Notice:
    site = row.outing.site
    return new_notice(
        key=f"withdrawal-{row.pk}:{reader.tag}",
        kind="roster-change",
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        hour=0,
        when_on=row.outing.date,
        reference=f"R{row.pk}",
        path=f"/outings/{row.outing_id}/",
        audience="roster",
        now=now,
        withdrawal=row,
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
    if notice.kind == SUMMARY:
        return summary_still_true(notice, now)
    if notice.session is not None:
        return invitation_still_true(notice, now)
    if notice.course is None:
        return True
    return notice.key in _wanted_rows(notice.course, now)
