"""Many at once: one absence a day, one report taken once, one notice sent again once. On whichever engine the run has."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from safety.errors import Conflict
from safety.models import Absence, Heartbeat, Notice, NoticeEvent
from safety.outbox.claims import claim_next
from safety.outbox.states import State
from safety.services.notices.absences import absence_add, absence_end
from safety.services.notices.bounces import Taken, bounce_take
from safety.services.notices.notices import notices_reconcile
from safety.services.notices.resending import notice_send_again
from safety.services.notices.sending import send_one
from safety.services.upkeep.heartbeats import heartbeat_note
from staff.models import AuditEntry
from tests.factories import make_team
from tests.safety.outbox.reports import report_of
from tests.safety.outbox.samples import make_course, make_notice
from tests.safety.phone.test_races import at_once

pytestmark = pytest.mark.usefixtures("real_transactions")
NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


def test_eight_entries_of_one_absence_are_one() -> None:
    team = make_team(NOW)
    day = team.site.local_date(NOW)

    def enter() -> str:
        try:
            absence_add(
                actor=team.liaison,
                user=team.liaison,
                first_day=day,
                last_day=day,
                deputy=team.officer,
                now=NOW,
            )
        except Conflict as refused:
            return refused.code
        return "entered"

    assert Counter(at_once(8, enter)) == {"entered": 1, "absence-overlaps": 7}
    absence = Absence.objects.get()

    def end() -> str:
        try:
            absence_end(actor=team.officer, absence=absence, reason="back", now=NOW)
        except Conflict as refused:
            return refused.code
        return "ended"

    assert Counter(at_once(8, end)) == {"ended": 1, "absence-ended": 7}


def test_one_report_taken_by_eight_at_once_refuses_and_tells_once() -> None:
    team = make_team(NOW)
    notice = make_notice(team.site, NOW, NOW, state=State.SENT, email="liaison@example.org")
    content = report_of(notice, name="<one@example.net>")
    found = at_once(8, lambda: bounce_take(content=content, now=NOW))
    assert Counter(found) == {Taken.FAILED: 1, Taken.REPEATED: 7}
    assert NoticeEvent.objects.filter(new=State.FAILED).count() == 1
    assert Notice.objects.filter(kind="undelivered").count() == 1


def test_one_refused_notice_sent_again_by_eight_at_once_waits_once() -> None:
    team = make_team(NOW)
    notice = make_notice(team.site, NOW, NOW, state=State.FAILED, user=team.liaison)

    def again() -> str:
        try:
            notice_send_again(actor=team.officer, notice=notice, reason="mended", now=NOW)
        except Conflict as refused:
            return refused.code
        return "again"

    assert Counter(at_once(8, again)) == {"again": 1, "notice-not-refused": 7}
    assert AuditEntry.objects.filter(action="notice.sent-again").count() == 1


def test_an_absence_entered_while_workers_send_leaves_each_notice_with_somebody() -> None:
    """Claims, reconciles and the absence cross: in the end the deputy was told whatever the absent person wasn't."""
    team = make_team(NOW)
    make_course(team, NOW)
    notices_reconcile(now=NOW)
    day = team.site.local_date(NOW)

    def enter() -> None:
        absence_add(
            actor=team.liaison, user=team.liaison, first_day=day, last_day=day, deputy=team.officer, now=NOW
        )
        notices_reconcile(now=NOW)

    def send() -> None:
        while (claimed := claim_next(NOW)) is not None:
            send_one(claimed, clock=lambda: NOW)

    turns: list[Any] = [enter, send, send, lambda: notices_reconcile(now=NOW)]
    at_once(4, lambda: turns.pop()())
    notices_reconcile(now=NOW)
    send()
    told = Notice.objects.filter(kind="day-of", state=State.SENT, audience="liaison")
    assert told.filter(user=team.officer).exists()
    left = Notice.objects.filter(user=team.liaison, audience="liaison", state=State.WAITING)
    assert not left.filter(next_try_at__lte=NOW).exists()


def test_the_first_sign_of_life_of_eight_at_once_is_one_row() -> None:
    at_once(8, lambda: heartbeat_note(name="worker", now=NOW))
    assert Heartbeat.objects.get().at == NOW
    at_once(8, lambda: heartbeat_note(name="worker", now=NOW + timedelta(minutes=1)))
    assert Heartbeat.objects.get().at == NOW + timedelta(minutes=1)
