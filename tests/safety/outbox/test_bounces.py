"""A mail that comes back is shown as refused, and somebody else is told. Grammar: RFC 3464, RFC 6522, RFC 3463."""

from __future__ import annotations

import io
import mailbox
import sys
from datetime import datetime
from email.message import Message
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError
from hypothesis import given, settings
from hypothesis import strategies as st

from safety.management.commands import take_bounces as command
from safety.models import Notice
from safety.outbox.states import State
from safety.rules.notices.delivery_report import MOST_BYTES, NotAReport, read_report
from safety.services.notices import bounces
from safety.services.notices.bounces import Taken, bounce_take
from staff.models import SiteRole
from tests.factories import Team, make_user
from tests.safety.outbox.reports import fields, recipient, report, report_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(notice: Notice) -> Notice:
    """A notice to the liaison that left."""
    Notice.objects.filter(pk=notice.pk).update(state=State.SENT)
    notice.refresh_from_db()
    return notice


def told(notice: Notice) -> list[str]:
    rows = Notice.objects.filter(key__startswith=f"undelivered-{notice.pk}:")
    return sorted(rows.values_list("email", flat=True))


@pytest.mark.parametrize("whole", [False, True])
def test_a_mail_that_comes_back_is_refused_for_good_and_the_officer_is_told(
    sent: Notice, now: datetime, whole: bool
) -> None:
    assert bounce_take(content=report_of(sent, whole=whole), now=now) == Taken.FAILED
    sent.refresh_from_db()
    assert sent.state == State.FAILED and sent.settled_at == now
    assert sent.last_error.startswith("bounced: 5.1.1 smtp; 550 5.1.1 no such user")
    event = sent.events.get(new=State.FAILED)
    assert (event.old, event.at) == (State.SENT, now)
    assert told(sent) == ["officer@example.org"]


def test_without_an_officer_who_can_be_written_to_the_liaisons_are_told(
    team: Team, sent: Notice, now: datetime
) -> None:
    SiteRole.objects.filter(user=team.officer).delete()
    make_user("second", team.site, SiteRole.Role.LIAISON)
    assert bounce_take(content=report_of(sent), now=now) == Taken.FAILED
    assert told(sent) == ["second@example.org"]


def test_state_and_word_to_the_officer_are_one(
    sent: Notice, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(**_: object) -> None:
        raise OperationalError("gone")

    monkeypatch.setattr("safety.services.notices.undelivered.tell_undelivered", broken)
    with pytest.raises(OperationalError):
        bounce_take(content=report_of(sent), now=now)
    sent.refresh_from_db()
    assert sent.state == State.SENT and not sent.events.exists()


@pytest.mark.parametrize("action", ["delayed", "delivered", "relayed", "expanded"])
def test_every_other_report_is_an_event_and_no_copy(sent: Notice, now: datetime, action: str) -> None:
    content = report_of(sent, recipient(action, "4.4.1" if action == "delayed" else "2.0.0", "waiting"))
    assert bounce_take(content=content, now=now) == Taken.NOTED
    sent.refresh_from_db()
    assert sent.state == State.SENT and sent.events.get().why.startswith(f"{action}: ")
    assert not sent.events.filter(new=State.SENT).exists() and not told(sent)


def test_the_worst_of_several_recipients_counts(sent: Notice, now: datetime) -> None:
    content = report_of(
        sent, recipient("relayed", "2.0.0", "ok"), recipient("FAILED (mailbox full)", "5.2.2")
    )
    assert bounce_take(content=content, now=now) == Taken.FAILED


def test_the_same_report_again_changes_nothing(sent: Notice, now: datetime) -> None:
    content = report_of(sent, name="<one@example.net>")
    found = [bounce_take(content=content, now=now) for _ in range(3)]
    assert found == [Taken.FAILED, Taken.REPEATED, Taken.REPEATED]
    forwarded = b"Received: from somewhere\n" + content
    assert bounce_take(content=forwarded, now=now) == Taken.REPEATED
    assert sent.events.count() == 1 and len(told(sent)) == 1


def test_a_second_report_about_a_refused_notice_is_noted_and_tells_nobody_twice(
    sent: Notice, now: datetime
) -> None:
    assert bounce_take(content=report_of(sent), now=now) == Taken.FAILED
    assert bounce_take(content=report_of(sent), now=now) == Taken.NOTED
    assert len(told(sent)) == 1


@pytest.mark.parametrize("state", [State.WAITING, State.WITHDRAWN])
def test_a_report_about_a_notice_that_has_not_been_noted_as_sent_moves_nothing(
    notice: Notice, now: datetime, state: str
) -> None:
    Notice.objects.filter(pk=notice.pk).update(state=state)
    assert bounce_take(content=report_of(notice), now=now) == Taken.NOTED
    notice.refresh_from_db()
    assert notice.state == state


def test_a_refused_notice_of_a_refusal_starts_no_further_one(sent: Notice, now: datetime) -> None:
    Notice.objects.filter(pk=sent.pk).update(kind="undelivered")
    sent.refresh_from_db()
    assert bounce_take(content=report_of(sent), now=now) == Taken.FAILED and not told(sent)


def headers(**values: str) -> Message:
    return fields(**values)


def strange(sent: Notice) -> dict[str, bytes]:
    known = headers(Message_ID=sent.message_id)
    inner = report(known)
    outer = report(None)
    outer.attach(inner)
    twice = headers(Message_ID=sent.message_id)
    twice["Message-ID"] = "<another@example.org>"
    return {
        "nothing": b"",
        "a letter": b"From: a@example.org\nSubject: away\n\nI am on holiday.\n",
        "bytes": bytes(range(256)) * 40,
        "no returned mail": report(None).as_bytes(),
        "no Message-ID": report(headers(Subject="x")).as_bytes(),
        "two Message-IDs": report(twice).as_bytes(),
        "no action": report(known, fields(Status="5.1.1")).as_bytes(),
        "a made-up action": report(known, recipient("exploded")).as_bytes(),
        "a report within": outer.as_bytes(),
        "cut short": report(known).as_bytes()[:400],
        "nested without end": b"Content-Type: multipart/report; boundary=a\n\n"
        + b"".join(
            b"--a\nContent-Type: multipart/mixed; boundary=a%d\n\n--a%d\n" % (n, n) for n in range(3000)
        ),
        "a letter with our Message-ID": f"Message-ID: {sent.message_id}\n\nhello".encode(),
    }


def test_what_is_no_report_is_said_and_changes_nothing(sent: Notice, now: datetime) -> None:
    for name, content in strange(sent).items():
        assert bounce_take(content=content, now=now) == Taken.NOT_UNDERSTOOD, name
    sent.refresh_from_db()
    assert sent.state == State.SENT and not sent.events.exists()


def test_a_forged_report_without_a_known_message_id_is_about_no_mail_of_ours(
    sent: Notice, now: datetime
) -> None:
    content = report(headers(Message_ID="<guess@example.org>")).as_bytes()
    assert bounce_take(content=content, now=now) == Taken.UNKNOWN


def test_a_huge_mail_is_not_read(sent: Notice, now: datetime) -> None:
    content = report_of(sent)
    assert bounce_take(content=content + b"x" * (MOST_BYTES + 1 - len(content)), now=now) == Taken.TOO_BIG


def test_control_characters_and_endless_diagnostics_are_cut(sent: Notice, now: datetime) -> None:
    content = report_of(sent, recipient(said="550 \x1b[31m\x07" + "no " * 900))
    assert bounce_take(content=content, now=now) == Taken.FAILED
    sent.refresh_from_db()
    assert sent.last_error.isprintable() and len(sent.last_error) < 400


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 900))
def test_no_damage_to_a_report_raises(garbage: bytes, where: int) -> None:
    whole = report(headers(Message_ID="<n-1@example.org>"), name="<r@example.net>").as_bytes()
    try:
        read_report(whole[:where] + garbage + whole[where + len(garbage) :])
    except NotAReport:
        return


def piped(monkeypatch: pytest.MonkeyPatch, content: bytes) -> int:
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(content)))
    try:
        call_command("take_bounces", stdout=io.StringIO())
    except CommandError as error:
        return error.returncode
    return 0


def test_the_pipe_of_a_mail_server_learns_from_the_exit_code(
    sent: Notice, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert piped(monkeypatch, report_of(sent)) == 0
    assert piped(monkeypatch, b"hello") == 65
    assert piped(monkeypatch, b"x" * (MOST_BYTES + 9)) == 65

    def gone(**_: object) -> Any:
        raise OperationalError("gone")

    monkeypatch.setattr(command, "bounce_take", gone)
    assert piped(monkeypatch, report_of(sent)) == 75


def run(**options: str) -> tuple[int, str]:
    said = io.StringIO()
    try:
        call_command("take_bounces", stdout=said, **options)
    except CommandError as error:
        return error.returncode, said.getvalue()
    return 0, said.getvalue()


def test_a_maildir_keeps_what_was_not_understood_in_a_folder_of_its_own(sent: Notice, tmp_path: Path) -> None:
    box = mailbox.Maildir(tmp_path / "in")
    content = report_of(sent, name="<one@example.net>")
    for one in (content, content, b"Subject: hello\n\nnot a report\n", b"x" * (MOST_BYTES + 5)):
        box.add(one)
    code, said = run(maildir=str(tmp_path / "in"))
    assert code == 65
    for line in ("1 refused for good", "1 seen before", "1 not understood", "1 too big"):
        assert line in said
    assert len(mailbox.Maildir(tmp_path / "in")) == 0
    kept = mailbox.Maildir(tmp_path / "in").get_folder("not-understood")
    assert sorted(len(kept.get_bytes(key)) for key in kept.iterkeys())[-1] > MOST_BYTES and len(kept) == 2
    assert run(maildir=str(tmp_path / "in"))[0] == 0
    assert run(maildir=str(tmp_path / "nowhere"))[0] == 66


def test_an_mbox_keeps_what_was_not_understood(sent: Notice, tmp_path: Path) -> None:
    box = mailbox.mbox(tmp_path / "in")
    for one in (report_of(sent), b"Subject: hello\n\nnot a report\n"):
        box.add(one)
    box.close()
    assert run(mbox=str(tmp_path / "in"))[0] == 65
    left = mailbox.mbox(tmp_path / "in")
    assert [mail["Subject"] for mail in left] == ["hello"]


def test_a_database_that_goes_half_way_leaves_the_rest_where_it_was(
    sent: Notice, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    box = mailbox.Maildir(tmp_path / "in")
    for _ in range(3):
        box.add(report_of(sent))
    turns = iter([Taken.FAILED, None, None])

    def failing(**_: object) -> Taken:
        if (taken := next(turns)) is None:
            raise OperationalError("gone")
        return taken

    monkeypatch.setattr(command, "bounce_take", failing)
    assert run(maildir=str(tmp_path / "in"))[0] == 75
    assert len(mailbox.Maildir(tmp_path / "in")) == 2
    assert bounces.UNDERSTOOD
