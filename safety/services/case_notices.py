"""Notices of what a case waits for beside its doses: a visit, a decision, a titre nobody has recorded."""

from __future__ import annotations

import logging
from datetime import datetime

from django.db import transaction

from safety.models import Incident, Notice
from safety.outbox.states import State, move
from safety.rules.follow_up import Audience, PlannedDose, Subject, WantedNotice, wanted_notices
from safety.rules.notice_kinds import OF_A_CASE
from safety.selectors.matters import incidents_open, matters_of
from safety.selectors.plans import plan_of
from safety.selectors.recipients import Recipient, audience_of
from safety.services.notice_rows import bring_in_line, new_notice
from staff.services.transactions import retried

logger = logging.getLogger(__name__)


def case_notices_reconcile(*, now: datetime) -> None:
    """Make these notices what the open cases ask for at `now`; repeating changes nothing. One bad case never stops it."""
    for incident in incidents_open():
        try:
            _bring_up(incident, now)
        except Exception:
            logger.exception("The notices of case %s can't be brought up to date", incident.pk)
    closed = Notice.objects.filter(state=State.WAITING, kind__in=OF_A_CASE, incident__closed_at__isnull=False)
    for row in closed:
        with transaction.atomic():
            move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)


@retried
def _bring_up(incident: Incident, now: datetime) -> None:
    wanted = case_rows(incident, now)
    with transaction.atomic():
        standing = {
            row.key: row
            for row in Notice.objects.filter(incident=incident, kind__in=OF_A_CASE).order_by("pk")
        }
        bring_in_line(wanted, standing, now)


def case_notice_still_true(notice: Notice, now: datetime) -> bool:
    incident = incidents_open().filter(notices=notice.pk).first()
    return incident is not None and notice.key in case_rows(incident, now)


def case_rows(incident: Incident, now: datetime) -> dict[str, Notice]:
    """Every wanted notice by its key."""
    wanted = wanted_of_case(incident, now)
    if not wanted:
        return {}
    readers = {audience: audience_of(incident, audience, now) for audience in Audience}
    rows = (
        _notice(incident, what, notice, reader, now)
        for what, notice in wanted
        for reader in readers[notice.audience]
    )
    return {row.key: row for row in rows}


def wanted_of_case(incident: Incident, now: datetime) -> list[tuple[Subject, WantedNotice]]:
    matters = matters_of(incident)
    plan = plan_of(incident.site) if matters else ()
    today = incident.site.local_date(now)
    return [
        (matter.what, notice)
        for matter in matters
        for notice in wanted_notices(
            doses=[PlannedDose(step=0, due_on=matter.due_on, given_on=None)],
            plan=plan,
            today=today,
            ended=False,
            what=matter.what,
        )
    ]


def _notice(
    incident: Incident, what: Subject, wanted: WantedNotice, reader: Recipient, now: datetime
) -> Notice:
    return new_notice(
        key=f"case-{incident.pk}:{what}:{wanted.due_on}:{wanted.send_on}:{reader.mark}",
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
    )
