"""More than three mails to one address at one hour go in one, and none of them is lost by it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from safety.errors import TemporaryFailure
from safety.models import Notice
from safety.outbox import digests as outbox_digests
from safety.outbox.claims import claim_next, put_back, settle, settle_sent
from safety.outbox.states import LEASE, State
from safety.selectors.notices.notices import oldest_due_age
from safety.services.notices import sending, wanted
from safety.services.notices.sending import gathered, send_due, send_one
from staff.models import Site
from tests.factories import Team, make_site
from tests.safety.outbox.mailserver import MailServer
from tests.safety.outbox.samples import DAY, make_due_today

pytestmark = pytest.mark.django_db


def at(moment: datetime) -> Callable[[], datetime]:
    return lambda: moment


def planned(site: Site, now: datetime, count: int, **changes: object) -> list[Notice]:
    return [
        make_due_today(
            site, now, **({"path": "/cases/C0/", "audience": "roster", "reference": f"C{number}"} | changes)
        )  # type: ignore[arg-type]
        for number in range(count)
    ]


def states(*rows: Notice) -> list[str]:
    return [Notice.objects.get(pk=row.pk).state for row in rows]


def gather(site: Site, now: datetime, count: int = 4) -> tuple[Notice, list[Notice]]:
    """A digest just claimed, and its members."""
    rows = planned(site, now, count)
    first = claim_next(now)
    assert first is not None and gathered(first, now)
    digest = claim_next(now)
    assert digest is not None and digest.kind == "digest"
    return digest, rows


@pytest.mark.parametrize(("count", "mails"), [(1, 1), (3, 3), (4, 1), (9, 1)])
def test_up_to_three_go_alone_and_more_go_in_one(
    server: MailServer, team: Team, now: datetime, count: int, mails: int
) -> None:
    rows = planned(team.site, now, count)
    assert send_due(clock=at(now)) == mails == len(server.taken)
    assert set(states(*rows)) == {State.SENT}


def test_the_mail_lists_reference_date_and_both_links_of_each_and_nothing_else(
    server: MailServer, team: Team, now: datetime
) -> None:
    rows = planned(team.site, now, 4)
    send_due(clock=at(now))
    (mail,) = server.taken
    body = mail.get_body(("plain",))
    assert body is not None and mail["Subject"].endswith("(4 references)")
    text = body.get_content()
    for row in rows:
        assert text.count(f"{row.reference}: ") == 1
    assert text.count("/cases/C0/") == text.count("/seen/") == 4


@pytest.mark.parametrize(
    "changes",
    [
        {"kind": "new-report"},
        {"kind": "held-report"},
        {"kind": "unanswered"},
        {"kind": "animal-word"},
        {"kind": "undelivered"},
        {"kind": "roster-change"},
    ],
)
def test_what_does_not_wait_always_goes_alone(
    server: MailServer, team: Team, now: datetime, changes: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(wanted, "still_true", lambda *_: True)
    planned(team.site, now, 5, **changes)
    assert send_due(clock=at(now)) == 5 and not Notice.objects.filter(kind="digest").exists()


def test_another_address_and_another_hour_are_mails_of_their_own(
    server: MailServer, team: Team, now: datetime
) -> None:
    planned(team.site, now, 3)
    planned(team.site, now, 3, email="other@example.org")
    planned(team.site, now - timedelta(hours=1), 3)
    assert send_due(clock=at(now)) == 9


def test_what_was_tried_once_keeps_the_message_id_it_may_have_left_with(
    server: MailServer, team: Team, now: datetime
) -> None:
    tried = planned(team.site, now, 2, attempts=1)
    fresh = planned(team.site, now, 4)
    assert send_due(clock=at(now)) == 3
    assert {mail["Message-ID"] for mail in server.taken} >= {row.message_id for row in tried}
    assert all(Notice.objects.get(pk=row.pk).digest_id for row in fresh)


def test_a_late_one_joins_while_the_mail_waits_and_goes_alone_once_it_was_claimed(
    server: MailServer, team: Team, now: datetime
) -> None:
    planned(team.site, now, 4)
    first = claim_next(now)
    assert first is not None and gathered(first, now)
    (joins,) = planned(team.site, now, 1, next_try_at=now - DAY)
    claimed = claim_next(now)
    assert claimed == joins and gathered(claimed, now)
    digest = claim_next(now)
    assert digest is not None and digest.kind == "digest"
    (late,) = planned(team.site, now, 1)
    assert send_one(digest, clock=at(now)) and send_due(clock=at(now)) == 1
    assert {mail["Message-ID"] for mail in server.taken} == {digest.message_id, late.message_id}
    assert digest.members.count() == 5


def test_what_is_no_longer_true_is_taken_out_and_an_empty_mail_is_withdrawn(
    server: MailServer, team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    digest, rows = gather(team.site, now)
    monkeypatch.setattr(wanted, "still_true", lambda row, _now: row.pk == rows[1].pk)
    assert send_one(digest, clock=at(now))
    assert states(*rows) == ["withdrawn", "sent", "withdrawn", "withdrawn"]
    other, gone = gather(team.site, now + DAY)
    monkeypatch.setattr(wanted, "still_true", lambda *_: False)
    assert not send_one(other, clock=at(now + DAY))
    assert states(other, *gone) == ["withdrawn"] * 5 and len(server.taken) == 1


def test_one_that_cannot_be_checked_leaves_the_mail_and_the_others_go(
    server: MailServer, team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    digest, rows = gather(team.site, now)

    def broken(row: Notice, _now: datetime) -> bool:
        if row.pk == rows[0].pk:
            raise LookupError("no such zone")
        return True

    monkeypatch.setattr(wanted, "still_true", broken)
    assert send_one(digest, clock=at(now))
    assert states(*rows) == ["waiting", "sent", "sent", "sent"]


def test_refused_for_good_settles_all_and_the_officer_is_told_once(
    server: MailServer, team: Team, now: datetime
) -> None:
    digest, rows = gather(team.site, now)
    server.answers["RCPT"] = "550 no such mailbox"
    assert not send_one(digest, clock=at(now))
    assert set(states(digest, *rows)) == {State.FAILED}
    told = Notice.objects.get(kind="undelivered")
    assert (told.email, told.path) == ("officer@example.org", "/notices/?state=failed")


def test_a_temporary_failure_keeps_them_together_until_the_next_try(
    server: MailServer, team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    digest, rows = gather(team.site, now)

    def down(*_: object, **__: object) -> None:
        raise TemporaryFailure("ConnectionRefusedError")

    with monkeypatch.context() as patched:
        patched.setattr(sending, "deliver", down)
        assert not send_one(digest, clock=at(now))
    assert states(digest, *rows) == ["waiting"] + ["gathered"] * 4
    assert oldest_due_age(now + timedelta(minutes=1)) == timedelta(minutes=1)
    (late,) = planned(team.site, now, 1)
    # It may have left, so nothing new joins it.
    assert send_due(clock=at(now + timedelta(seconds=31))) == 2
    assert set(states(digest, late, *rows)) == {State.SENT}


def test_a_mail_noted_late_takes_its_members_along(team: Team, now: datetime) -> None:
    digest, rows = gather(team.site, now)
    assert claim_next(now + LEASE) is not None  # somebody else has taken it over
    assert not settle_sent(digest, now=now + LEASE)
    assert set(states(digest, *rows)) == {State.SENT}


def test_a_claim_lost_settles_nothing(team: Team, now: datetime) -> None:
    digest, rows = gather(team.site, now)
    other = claim_next(now + LEASE)
    assert other is not None
    assert not settle(digest, State.FAILED, now=now) and not put_back(digest, now=now, why="x")
    assert set(states(*rows)) == {State.GATHERED}


def test_a_withdrawn_mail_puts_its_members_back_in_the_line(
    server: MailServer, team: Team, now: datetime
) -> None:
    digest, rows = gather(team.site, now)
    assert settle(digest, State.WITHDRAWN, now=now)
    assert set(states(*rows)) == {State.WAITING}
    assert send_due(clock=at(now)) == 4 and set(states(*rows)) == {State.SENT}


def test_the_sweep_heals_what_waits_for_a_mail_that_is_settled(
    server: MailServer, team: Team, now: datetime
) -> None:
    digest, rows = gather(team.site, now)
    assert outbox_digests.gathered_sweep(now) == 0
    Notice.objects.filter(pk=digest.pk).update(state=State.SENT, claim_token=None, lease_until=None)
    assert send_due(clock=at(now)) == 4 and set(states(*rows)) == {State.SENT}


def test_a_gathered_notice_without_a_mail_is_refused_by_the_database(team: Team, now: datetime) -> None:
    (row,) = planned(team.site, now, 1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Notice.objects.filter(pk=row.pk).update(state=State.GATHERED)


def test_gathering_undone_by_an_error_sends_it_alone(
    server: MailServer, team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = planned(team.site, now, 4)

    def broken(*_: object) -> None:
        raise LookupError

    monkeypatch.setattr("safety.services.notices.digests._digest_for", broken)
    assert send_due(clock=at(now)) == 4 and set(states(*rows)) == {State.SENT}


@pytest.mark.slow
def test_two_loops_at_once_send_each_exactly_once(
    real_transactions: None, server: MailServer, now: datetime
) -> None:
    site = make_site("hillside")
    rows = [row for n in range(4) for row in planned(site, now, 6, email=f"reader{n}@example.org")]
    barrier, failures = threading.Barrier(3), []

    def run() -> None:
        try:
            barrier.wait(timeout=20)
            send_due(clock=at(now))
        except BaseException as error:  # noqa: BLE001  (handed to the test's own thread)
            failures.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    send_due(clock=at(now))
    assert not failures and set(states(*rows)) == {State.SENT}
    left = {mail["Message-ID"] for mail in server.taken}
    assert len(left) == len(server.taken)
    alone = {row.message_id for row in Notice.objects.filter(digest=None)}
    assert left == alone and Notice.objects.filter(kind="digest").exists()
