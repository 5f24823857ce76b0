"""From a due notice to a sent one: checked again at the last moment, told on when refused, never stuck."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from email.message import EmailMessage

import pytest
from django.db import OperationalError

from safety.errors import FenceDown, TemporaryFailure
from safety.models import Notice, PlannedDose
from safety.outbox.claims import claim_next
from safety.outbox.states import LEASE, State
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import plans_catch_up
from safety.services.notices import notices as notices_module
from safety.services.notices import sending, wanted
from safety.services.notices.sending import send_due, send_one
from safety.services.notices.tick import tick
from staff.models import SiteRole
from tests.factories import Team, make_user
from tests.safety.outbox.mailserver import MailServer
from tests.safety.outbox.samples import DAY, make_course, make_notice

pytestmark = pytest.mark.django_db


def at(moment: datetime) -> Callable[[], datetime]:
    return lambda: moment


def test_a_due_notice_is_sent_once_to_one_reader_under_its_own_message_id(
    server: MailServer, notice: Notice, now: datetime
) -> None:
    assert send_due(clock=at(now)) == 1
    assert send_due(clock=at(now)) == 0
    (mail,) = server.taken
    assert mail["Message-ID"] == notice.message_id and mail["To"] == "liaison@example.org"
    assert server.recipients == [["liaison@example.org"]] and mail["Cc"] is None and mail["Bcc"] is None


def test_a_second_copy_has_the_message_id_and_the_date_of_the_first(
    server: MailServer, notice: Notice, now: datetime
) -> None:
    first, second = claim_next(now), claim_next(now + LEASE)
    assert first is not None and second is not None
    assert send_one(second, clock=at(now + LEASE))
    # As if the first worker had passed its fence a moment before its lease lapsed.
    Notice.objects.filter(pk=notice.pk).update(
        state=State.CLAIMED, claim_token=first.claim_token, lease_until=now + 3 * LEASE
    )
    assert send_one(first, clock=at(now + LEASE))
    assert len({mail["Message-ID"] for mail in server.taken}) == 1 and len(server.taken) == 2
    assert len({mail["Date"] for mail in server.taken}) == 1


def test_the_mail_is_dated_when_it_was_due_and_not_when_the_course_was_planned(
    server: MailServer, team: Team, now: datetime
) -> None:
    make_notice(team.site, now, now - 27 * DAY)
    send_due(clock=at(now))
    assert server.taken[0]["Date"].datetime == now


def test_a_temporary_failure_waits_and_the_next_try_succeeds(
    server: MailServer, notice: Notice, now: datetime
) -> None:
    server.answers["RCPT"] = "451 greylisted"
    assert send_due(clock=at(now)) == 0
    notice.refresh_from_db()
    assert notice.state == State.WAITING and "greylisted" in notice.last_error
    server.answers.clear()
    assert send_due(clock=at(now + timedelta(seconds=31))) == 1


def test_a_refusal_for_good_is_shown_and_every_other_officer_is_told(
    server: MailServer, notice: Notice, team: Team, now: datetime
) -> None:
    make_user("deputy", team.site, SiteRole.Role.OFFICER)
    server.answers["RCPT"] = "550 no such mailbox"
    claimed = claim_next(now)
    assert claimed is not None and not send_one(claimed, clock=at(now))
    notice.refresh_from_db()
    assert (notice.state, notice.last_error) == (State.FAILED, "550 no such mailbox")
    server.answers.clear()
    send_due(clock=at(now))
    assert {mail["To"] for mail in server.taken} == {"officer@example.org", "deputy@example.org"}
    assert all(mail["Subject"].startswith("Not delivered R1") for mail in server.taken)


def test_a_refused_word_about_a_refusal_starts_no_chain(
    server: MailServer, notice: Notice, now: datetime
) -> None:
    server.answers["RCPT"] = "550 no such mailbox"
    send_due(clock=at(now))
    assert sorted(Notice.objects.values_list("kind", "state")) == [
        ("roster-change", "failed"),
        ("undelivered", "failed"),
    ]


def test_where_the_only_officers_own_address_is_refused_the_liaison_is_told(
    server: MailServer, team: Team, now: datetime
) -> None:
    refused = make_notice(team.site, now, now, email="Officer@example.org")
    server.answers["RCPT"] = "550 no such mailbox"
    send_due(clock=at(now), at_most=1)
    assert Notice.objects.exclude(pk=refused.pk).get().email == "liaison@example.org"


def test_where_nobody_else_is_left_the_log_says_so(
    server: MailServer, team: Team, now: datetime, caplog: pytest.LogCaptureFixture
) -> None:
    SiteRole.objects.filter(user=team.liaison).delete()
    make_notice(team.site, now, now, email="Officer@example.org")
    server.answers["RCPT"] = "550 no such mailbox"
    send_due(clock=at(now))
    assert Notice.objects.count() == 1 and "nobody else to tell" in caplog.text


def test_a_dose_recorded_meanwhile_withdraws_its_reminder_at_the_moment_of_sending(
    server: MailServer, team: Team, now: datetime
) -> None:
    course = make_course(team, now)
    due = [claimed for _ in range(2) if (claimed := claim_next(now))]
    assert {claimed.kind for claimed in due} == {"day-of"}
    # Recorded, and nobody has planned what follows from it: no bell, no tick.
    course_dose_record(
        actor=team.liaison, course=course, given_on=team.site.local_date(now), now=now, route="IM"
    )
    assert PlannedDose.objects.get(course=course, number=1).given_on is None
    for claimed in due:
        assert not send_one(claimed, clock=at(now))
    assert {Notice.objects.get(pk=claimed.pk).state for claimed in due} == {State.WITHDRAWN}
    assert not server.taken


def test_an_address_that_was_corrected_meanwhile_is_the_one_written_to(
    server: MailServer, team: Team, now: datetime
) -> None:
    make_course(team, now)
    team.liaison.email = "new@example.org"
    team.liaison.save()
    tick(clock=at(now))
    assert {mail["To"] for mail in server.taken} == {"new@example.org", "p7@example.org"}
    assert Notice.objects.get(email="liaison@example.org", step=1, kind="day-of").state == State.WITHDRAWN


def test_a_row_that_cannot_be_checked_waits_and_the_others_leave(
    server: MailServer, team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = make_notice(team.site, now - 2 * DAY, now)
    make_notice(team.site, now - DAY, now, email="next@example.org")
    honest = wanted.still_true

    def broken(notice: Notice, moment: datetime) -> bool:
        if notice.pk == bad.pk:
            raise LookupError("no such zone")
        return honest(notice, moment)

    monkeypatch.setattr(wanted, "still_true", broken)
    assert send_due(clock=at(now)) == 1
    bad.refresh_from_db()
    assert bad.state == State.WAITING and bad.last_error == "LookupError: no such zone"
    assert server.recipients == [["next@example.org"]]


def test_a_course_that_cannot_be_planned_keeps_nobody_elses_mail_back(
    server: MailServer, team: Team, notice: Notice, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_course(team, now)
    monkeypatch.setattr("safety.services.course.plan.courses_behind", lambda: type(notice.site).objects.all())

    def broken(**_: object) -> None:
        raise ValueError("an impossible regimen")

    monkeypatch.setattr("safety.services.course.plan.course_plan", broken)
    assert plans_catch_up(now=now) == 0
    monkeypatch.setattr(notices_module, "notices_bring", broken)
    assert tick(clock=at(now)) == 3


def test_a_server_slower_than_the_lease_leaves_the_notice_waiting_with_the_reason(
    notice: Notice, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(_: EmailMessage, *, fence: Callable[[], bool]) -> None:
        raise FenceDown

    monkeypatch.setattr(sending, "deliver", slow)
    assert send_due(clock=at(now)) == 0
    notice.refresh_from_db()
    assert notice.state == State.WAITING and "longer than the claim lasts" in notice.last_error


def test_a_mail_that_left_is_noted_even_if_the_database_is_away_for_a_moment(
    server: MailServer, notice: Notice, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest, failures = sending.settle_sent, [OperationalError("gone"), OperationalError("gone")]

    def shaky(row: Notice, *, now: datetime) -> bool:
        if failures:
            raise failures.pop()
        return honest(row, now=now)

    monkeypatch.setattr(sending, "settle_sent", shaky)
    monkeypatch.setattr(sending, "SETTLE_PAUSES", (0.0, 0.0))
    assert send_due(clock=at(now)) == 1
    notice.refresh_from_db()
    assert notice.state == State.SENT and len(server.taken) == 1


def test_sending_stops_at_the_number_asked_for(server: MailServer, team: Team, now: datetime) -> None:
    for _ in range(3):
        make_notice(team.site, now, now)
    assert send_due(clock=at(now), at_most=2) == 2


def test_no_failure_gives_a_notice_up(notice: Notice, now: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    def down(_: EmailMessage, *, fence: Callable[[], bool]) -> None:
        raise TemporaryFailure("ConnectionRefusedError")

    monkeypatch.setattr(sending, "deliver", down)
    moment = now
    for _ in range(40):
        send_due(clock=at(moment))
        moment += timedelta(minutes=31)
    notice.refresh_from_db()
    assert (notice.state, notice.attempts) == (State.WAITING, 40)
