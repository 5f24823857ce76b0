"""A report that waits for a name is told to those who may read it; the spacing is decided here, no source."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest

from safety.emails.build import build_mail
from safety.models import Notice, PhoneMessage
from safety.notices.phone.held import HELD_REPORT
from safety.services.notices.notices import notices_reconcile, still_true
from safety.services.phone.receive import messages_sweep
from tests.factories import Team, make_person
from tests.safety.phone.phones import Phone, phone_of
from tests.safety.phone.test_held import step

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def told(now: datetime) -> list[str]:
    notices_reconcile(now=now)
    return sorted(Notice.objects.filter(kind=HELD_REPORT.name).values_list("email", flat=True))


def wrong_person(team: Team, now: datetime) -> None:
    """A report from a card, about somebody its owner doesn't lead."""
    mate = make_person(team.site, team.officer, now, number="21", name="Test Mate")
    phone_of(mate, team.officer, now).report(uuid.uuid4(), person=team.person.pk)


def test_a_report_from_a_card_is_told_to_the_officers_of_its_site(team: Team, now: datetime) -> None:
    assert told(now) == []
    wrong_person(team, now)
    assert told(now) == ["officer@example.org"]
    notice = Notice.objects.get(kind=HELD_REPORT.name)
    assert notice.due_at <= now and still_true(notice, now)
    assert told(now) == ["officer@example.org"]


def test_one_that_names_no_card_is_told_to_every_officer(team: Team, now: datetime) -> None:
    Phone("", now).report(uuid.uuid4())
    assert told(now) == ["officer@example.org", "stranger@example.org"]


def test_the_mail_says_where_to_look_and_nothing_of_the_report(team: Team, now: datetime) -> None:
    wrong_person(team, now)
    told(now)
    text = build_mail(Notice.objects.get(kind=HELD_REPORT.name), today=team.site.local_date(now)).as_string()
    assert "/reports-waiting/" in text
    for word in ("canary", "bite", team.person.name, "Test Mate"):
        assert word not in text


@pytest.mark.parametrize(("after", "mails"), [(HOUR - timedelta(seconds=1), 2), (HOUR, 4)])
def test_another_one_within_the_hour_is_told_when_the_hour_is_over(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch, after: timedelta, mails: int
) -> None:
    Phone("", now).report(uuid.uuid4())
    assert len(told(now)) == 2
    later = now + timedelta(minutes=10)
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    Phone("", later).report(uuid.uuid4())
    assert len(told(later)) == 2
    assert len(told(now + after)) == mails
    assert len(told(now + 3 * HOUR)) == 4


def test_washing_whose_report_never_came_is_told_when_it_is_held(
    team: Team, phone: Phone, now: datetime
) -> None:
    washing: dict[str, Any] = {
        "spells": [phone.spell(0)],
        "stated_not_washed": False,
        "antiseptic": "unknown",
    }
    phone.send("wash", washing, uuid.uuid4())
    assert told(now) == []
    late = now + timedelta(days=2)
    messages_sweep(now=late)
    assert PhoneMessage.objects.get().held_at == late
    assert told(late) == ["officer@example.org"]


def test_what_was_dealt_with_meanwhile_is_not_sent(team: Team, now: datetime) -> None:
    wrong_person(team, now)
    told(now)
    kept = PhoneMessage.objects.get()
    assert step(team.officer, "held-set-aside", kept.key, reason="seen by the lead").status_code == 302
    assert not still_true(Notice.objects.get(kind=HELD_REPORT.name), now)
