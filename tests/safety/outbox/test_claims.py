"""Claims: one worker at a time, a lease that lapses, a fence, and an end that can be noted once."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection

from safety.models import Notice, NoticeEvent
from safety.outbox.claims import claim_next, open_and_due, put_back, retime, settle, settle_sent, still_ours
from safety.outbox.states import FENCE_MARGIN, LEASE, IllegalMove, State, move, wait_before_retry
from tests.factories import Team
from tests.safety.outbox.samples import make_notice

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)


def claimed(now: datetime) -> Notice:
    taken = claim_next(now)
    assert taken is not None
    return taken


def test_a_claimed_notice_is_not_claimed_again_while_its_lease_lasts(notice: Notice, now: datetime) -> None:
    assert claimed(now).pk == notice.pk
    assert claim_next(now + LEASE - SECOND) is None


def test_a_lapsed_lease_is_taken_over_with_a_new_token_and_says_so(notice: Notice, now: datetime) -> None:
    first = claimed(now)
    second = claimed(now + LEASE)
    assert second.pk == first.pk and second.claim_token != first.claim_token and second.attempts == 2
    assert notice.events.last().why == "lease lapsed, taken over"


def test_a_notice_is_not_claimed_before_its_time(team: Team, now: datetime) -> None:
    make_notice(team.site, now + SECOND, now)
    assert claim_next(now) is None
    assert claim_next(now + SECOND) is not None


def test_what_has_waited_longest_goes_first(team: Team, now: datetime) -> None:
    late, early = (make_notice(team.site, now - minutes * 60 * SECOND, now) for minutes in (1, 9))
    assert [claimed(now).pk, claimed(now).pk] == [early.pk, late.pk]


def test_a_row_that_changed_since_it_was_read_is_not_moved(notice: Notice, now: datetime) -> None:
    stale = Notice.objects.get(pk=notice.pk)
    claimed(now)
    assert not move(stale, State.WITHDRAWN, now=now)
    assert Notice.objects.get(pk=notice.pk).state == State.CLAIMED
    assert NoticeEvent.objects.filter(new=State.WITHDRAWN).count() == 0


@pytest.mark.parametrize("ended", [State.SENT, State.WITHDRAWN, State.FAILED])
def test_an_ended_notice_cannot_be_claimed_by_any_path(notice: Notice, now: datetime, ended: str) -> None:
    taken = claimed(now)
    assert settle(taken, ended, now=now)
    assert claim_next(now + 10 * LEASE) is None
    with pytest.raises(IllegalMove, match=f"notice {notice.pk} is {ended} and can't become claimed"):
        move(taken, State.CLAIMED, now=now)


def test_the_fence_stands_only_while_the_claim_outlasts_the_servers_answer(
    notice: Notice, now: datetime
) -> None:
    taken = claimed(now)
    assert still_ours(taken, now)
    assert still_ours(taken, now + LEASE - FENCE_MARGIN - SECOND)
    assert not still_ours(taken, now + LEASE - FENCE_MARGIN)


def test_the_fence_is_down_once_another_worker_has_the_claim(notice: Notice, now: datetime) -> None:
    frozen = claimed(now)
    claimed(now + LEASE)
    assert not still_ours(frozen, now + LEASE)
    assert not still_ours(frozen, now)


def test_a_worker_that_lost_its_claim_can_neither_put_back_nor_end_the_notice(
    notice: Notice, now: datetime
) -> None:
    frozen = claimed(now)
    other = claimed(now + LEASE)
    assert not put_back(frozen, now=now + LEASE, why="slow")
    assert not settle(frozen, State.FAILED, now=now + LEASE, why="550")
    assert Notice.objects.get(pk=notice.pk).claim_token == other.claim_token


def test_a_mail_that_left_after_its_claim_was_lost_is_noted_and_stops_the_other_worker(
    notice: Notice, now: datetime
) -> None:
    frozen = claimed(now)
    other = claimed(now + LEASE)
    assert not settle_sent(frozen, now=now + LEASE)
    assert Notice.objects.get(pk=notice.pk).state == State.SENT
    assert not still_ours(other, now + LEASE)


def test_a_second_copy_that_left_is_shown_on_the_notice(notice: Notice, now: datetime) -> None:
    frozen = claimed(now)
    assert settle_sent(claimed(now + LEASE), now=now + LEASE)
    assert not settle_sent(frozen, now=now + LEASE)
    sent = notice.events.filter(new=State.SENT)
    assert [event.old for event in sent] == [State.CLAIMED, State.SENT]
    assert "second copy" in sent[1].why


def test_a_mail_that_left_while_its_notice_waited_again_is_noted(notice: Notice, now: datetime) -> None:
    frozen = claimed(now)
    assert put_back(claimed(now + LEASE), now=now + LEASE, why="451")
    assert not settle_sent(frozen, now=now + LEASE)
    assert Notice.objects.get(pk=notice.pk).state == State.SENT


def test_the_wait_grows_from_half_a_minute_to_half_an_hour_and_never_ends() -> None:
    waits = [wait_before_retry(attempts).total_seconds() for attempts in range(9)]
    assert waits == [30, 60, 120, 240, 480, 960, 1800, 1800, 1800]
    assert wait_before_retry(30_000) == timedelta(minutes=30)


def test_a_notice_put_back_waits_and_shows_why(notice: Notice, now: datetime) -> None:
    assert put_back(claimed(now), now=now, why="451 try later")
    again = Notice.objects.get(pk=notice.pk)
    assert (again.state, again.last_error, again.claim_token) == (State.WAITING, "451 try later", None)
    assert claim_next(now + 29 * SECOND) is None
    assert put_back(claimed(now + 30 * SECOND), now=now + 30 * SECOND, why="451 try later")
    assert claim_next(now + 89 * SECOND) is None
    assert claim_next(now + 90 * SECOND) is not None


def test_a_new_hour_moves_a_waiting_notice_but_not_the_wait_after_a_failure(
    notice: Notice, now: datetime
) -> None:
    later = now + 3600 * SECOND
    assert retime(notice, send_hour=9, zone="UTC", due_at=later, next_try_at=later)
    assert claim_next(now) is None
    put_back(claimed(later), now=later, why="451")
    assert retime(notice, send_hour=6, zone="UTC", due_at=now, next_try_at=now)
    row = Notice.objects.get(pk=notice.pk)
    assert row.due_at == now and row.next_try_at == later + 30 * SECOND
    claimed(row.next_try_at)
    assert not retime(notice, send_hour=9, zone="UTC", due_at=later, next_try_at=later)


def test_the_due_scan_reads_the_partial_index_however_many_were_sent(team: Team, now: datetime) -> None:
    rows = [
        Notice(
            key=f"sent-{n}",
            kind="day-of",
            site=team.site,
            reference="S",
            path="/",
            audience="liaison",
            email="x@example.org",
            send_on=now.date(),
            send_hour=7,
            zone="UTC",
            due_at=now - n * SECOND,
            next_try_at=now - n * SECOND,
            state=State.WAITING if n % 500 == 0 else State.SENT,
            message_id=f"<sent-{n}@example.org>",
            created_at=now,
        )
        for n in range(6_000)
    ]
    Notice.objects.bulk_create(rows, batch_size=1000)
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE safety_notice")
    plan = open_and_due(now)[:1].explain()
    assert "notice_open" in plan, plan
    assert "SCAN safety_notice\n" not in f"{plan}\n" and "Seq Scan" not in plan, plan
    assert "TEMP B-TREE" not in plan, plan
