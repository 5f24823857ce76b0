"""The second link of a mail: one button, no account, and nothing changes but that it was seen."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.core import signing
from django.test import Client
from django.utils import timezone
from django.utils.formats import date_format

from safety.emails.build import build_mail
from safety.emails.seen import seen_link, seen_token
from safety.models import Notice, NoticeEvent
from safety.outbox.states import State
from staff.models import AuditEntry
from tests.factories import Team
from tests.safety.outbox.samples import make_course, make_notice

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(team: Team, now: datetime) -> Notice:
    return make_notice(
        team.site, now, now, kind="day-of", state=State.SENT, settled_at=now, path="/cases/C1/"
    )


def where(notice: Notice) -> str:
    return f"/seen/{seen_token(notice)}/"


def test_looking_changes_nothing_and_shows_reference_date_and_one_button(sent: Notice) -> None:
    for _turn in range(3):
        answer = Client().get(where(sent))
        text = answer.content.decode()
        assert answer.status_code == 200 and text.count("<button") == 1
        assert f"{sent.reference}, {date_format(sent.send_on, 'DATE_FORMAT')}" in text
    sent.refresh_from_db()
    assert sent.acknowledged_at is None and not sent.events.exists()
    assert Client().head(where(sent)).status_code == 200


def test_the_button_keeps_the_first_word_and_pressing_it_again_changes_nothing(
    sent: Notice, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    for minutes in (1, 9):
        monkeypatch.setattr(timezone, "now", lambda m=minutes: now + timedelta(minutes=m))
        answer = Client(enforce_csrf_checks=True).post(where(sent))
        assert answer.status_code == 200 and "Noted" in answer.content.decode()
    sent.refresh_from_db()
    assert sent.acknowledged_at == now + timedelta(minutes=1)
    event = sent.events.get()
    assert (event.old, event.new) == ("sent", NoticeEvent.SEEN)


def test_it_changes_nothing_else(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    notice = course.notices.get(kind="day-of", audience="member", step=1)
    before = list(Notice.objects.exclude(pk=notice.pk).values())
    doses, audited = list(course.planned_doses.values()), AuditEntry.objects.count()
    Client().post(where(notice))
    assert list(Notice.objects.exclude(pk=notice.pk).values()) == before
    assert list(course.planned_doses.values()) == doses and AuditEntry.objects.count() == audited
    notice.refresh_from_db()
    assert notice.acknowledged_at and notice.state == State.WAITING


@pytest.mark.parametrize("token", ["nonsense", "1", "1:", ":", "%00", "1:aaaa"])
def test_what_was_not_signed_is_not_found(sent: Notice, token: str) -> None:
    for method in ("get", "post"):
        assert getattr(Client(), method)(f"/seen/{token}/").status_code == 404


def test_a_signature_of_another_kind_or_for_another_notice_is_refused(sent: Notice) -> None:
    other = signing.Signer(salt="another").sign(str(sent.pk))
    moved = f"{sent.pk + 1}:{seen_token(sent).partition(':')[2]}"
    nowhere = seen_token(Notice(pk=10**9, kind="day-of"))
    for token in (other, moved, nowhere, signing.dumps(sent.pk)):
        assert Client().post(f"/seen/{token}/").status_code == 404
    sent.refresh_from_db()
    assert sent.acknowledged_at is None


def test_a_notice_that_asks_for_no_word_has_no_link(team: Team, now: datetime) -> None:
    quiet = make_notice(team.site, now, now)
    assert seen_link(quiet) == "" and Client().get(where(quiet)).status_code == 404


def test_a_withdrawn_one_says_that_it_is_no_longer_needed(sent: Notice) -> None:
    Notice.objects.filter(pk=sent.pk).update(state=State.WITHDRAWN)
    for answer in (Client().get(where(sent)), Client().post(where(sent))):
        assert "no longer needed" in answer.content.decode() and "<button" not in answer.content.decode()
    sent.refresh_from_db()
    assert sent.acknowledged_at is None


def test_no_browser_or_proxy_keeps_it_and_the_address_travels_nowhere(sent: Notice) -> None:
    answer = Client().get(where(sent))
    assert "no-store" in answer["Cache-Control"] and answer["Referrer-Policy"] == "no-referrer"


def test_a_look_at_the_case_by_who_is_signed_in_is_no_such_word(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    client = Client()
    client.force_login(team.liaison)
    assert client.get(f"/cases/{course.incident.reference}/").status_code == 200
    assert not Notice.objects.filter(acknowledged_at__isnull=False).exists()


@pytest.mark.parametrize(
    ("kind", "asks"),
    [("day-before", False), ("day-of", True), ("overdue", True), ("visit-late", True), ("new-report", True)],
)
def test_the_mail_carries_the_second_link_where_a_word_is_asked_for(
    team: Team, now: datetime, kind: str, asks: bool
) -> None:
    notice = make_notice(team.site, now, now, kind=kind)
    mail = build_mail(notice, team.site.local_date(now))
    for part in ("plain", "html"):
        body = mail.get_body((part,))
        assert body is not None and (where(notice) in body.get_content()) == asks
