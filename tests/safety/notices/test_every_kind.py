"""What holds for every kind alike: its mail names nobody, and it leaves only while it is wanted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.conf import settings
from django.test import Client

from safety import registry
from safety.emails.build import build_mail
from safety.errors import Conflict
from safety.models import Notice
from safety.outbox.states import State
from safety.registry import NoticeKind, UnknownKind
from safety.selectors.upkeep.status import figures
from safety.selectors.upkeep.verify import differences
from safety.services.notices import notices as engine
from safety.services.notices.notices import notices_reconcile, still_true
from safety.services.notices.resending import notice_send_again
from safety.services.notices.sending import send_due
from tests.factories import Team
from tests.safety.outbox.mailserver import MailServer
from tests.safety.outbox.samples import make_course, make_notice

pytestmark = pytest.mark.django_db
KINDS = registry.kinds()
EACH = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
# Of what happened and stays so: who was taken off, what was refused. Once written it is told.
TOLD_FOR_GOOD = {"roster-change", "undelivered"}
PIGEON = "told-by-pigeon"


def at(moment: datetime) -> Callable[[], datetime]:
    return lambda: moment


@EACH
def test_its_mail_names_nobody_in_any_language(kind: NoticeKind, team: Team, now: datetime) -> None:
    course = make_course(team, now)
    about = {"incident": course.incident, "course": course, "person": team.person, "reference": "K7M2"}
    for language, _name in settings.LANGUAGES:
        row = make_notice(team.site, now, now, kind=kind.name, language=language, **about)
        mail = build_mail(row, now.date())
        text = mail.get_body(("plain",)).get_content()  # type: ignore[union-attr]
        html = mail.get_body(("html",)).get_content()  # type: ignore[union-attr]
        for said in (mail["Subject"], text, html):
            for secret in (team.person.name, "dog", "bite", "rabies", "vaccine", team.clinic.name):
                assert secret.lower() not in said.lower()
        assert "K7M2" in mail["Subject"]
        assert ("/seen/" in text) is (kind.asks is not None)


@EACH
def test_one_that_nothing_wants_any_more_is_withdrawn_at_sending(
    kind: NoticeKind, server: MailServer, team: Team, now: datetime
) -> None:
    row = make_notice(team.site, now, now, kind=kind.name, audience="officer", gathers=kind.name == "digest")
    send_due(clock=at(now))
    row.refresh_from_db()
    told = kind.name in TOLD_FOR_GOOD
    assert row.state == (State.SENT if told else State.WITHDRAWN) and len(server.taken) == told


def test_an_unknown_kind_is_refused_shown_and_sent_as_nothing_else(
    server: MailServer, team: Team, now: datetime, client: Client
) -> None:
    row = make_notice(team.site, now, now, kind=PIGEON)
    make_notice(team.site, now, now, email="next@example.org")
    with pytest.raises(UnknownKind, match=PIGEON):
        still_true(row, now)
    with pytest.raises(UnknownKind, match=PIGEON):
        build_mail(row, now.date())
    assert send_due(clock=at(now)) == 1 and server.recipients == [["next@example.org"]]
    row.refresh_from_db()
    assert row.state == State.WAITING and PIGEON in row.last_error
    assert any(found.computed.startswith("a kind") for found in differences() if PIGEON in found.stored)
    assert figures(now).notices[State.WAITING, "unknown"] == 1
    client.force_login(team.officer)
    for path in ("/notices/", f"/notices/{row.pk}/", "/notices/coming/"):
        assert f"kind of notice nobody knows here, “{PIGEON}”" in client.get(path).content.decode()


def test_an_unknown_kind_is_not_put_back_by_hand(team: Team, now: datetime) -> None:
    row = make_notice(team.site, now, now, kind=PIGEON, state=State.FAILED)
    with pytest.raises(Conflict) as refused:
        notice_send_again(actor=team.officer, notice=row, reason="address mended", now=now)
    assert refused.value.code == "notice-kind-unknown"


def test_a_subject_that_cannot_be_read_stops_no_other_and_is_logged_without_a_name(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    make_course(team, now)
    Notice.objects.all().delete()
    honest = engine.notices_bring

    def broken(*, origin: registry.Origin[object], subject: object, now: datetime) -> bool:
        if type(subject).__name__ == "Incident":
            raise ValueError("damaged")
        return honest(origin=origin, subject=subject, now=now)

    monkeypatch.setattr(engine, "notices_bring", broken)
    notices_reconcile(now=now)
    assert Notice.objects.filter(course__isnull=False).exists()
    assert "of Incident" in caplog.text and team.person.name not in caplog.text


def test_an_origin_that_cannot_be_asked_stops_no_other(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    make_course(team, now)
    Notice.objects.all().delete()
    monkeypatch.setattr("safety.notices.case.matter.incidents_open", lambda: 1 / 0)
    notices_reconcile(now=now)
    assert Notice.objects.filter(course__isnull=False).exists()
    assert "What notices of what cases wait for are about can't be read" in caplog.text
