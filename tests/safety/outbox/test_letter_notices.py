"""Notices about a clinician's letter that runs out: before it does, to member, liaison and officer.

A week ahead and on the day: common practice, no source.
"""

from __future__ import annotations

import re
from datetime import date, datetime

import pytest

from safety.emails.build import build_mail
from safety.models import Notice
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import SiteRole
from staff.services.record.certificates import certificate_verify
from staff.services.record.letters import immunocompromised_set, letter_add, letter_void
from tests.documents import picture
from tests.factories import Team
from tests.safety.outbox.samples import DAY
from tests.safety.outbox.test_mail_content import HEALTH
from tests.safety.outbox.test_record_notices import rows

pytestmark = pytest.mark.django_db


def _with_letter(team: Team, now: datetime, days_left: int) -> date:
    """A team member who goes by a checked letter; its last day."""
    today = team.site.local_date(now)
    immunocompromised_set(
        actor=team.officer, person=team.person, immunocompromised=True, reason="told us", now=now
    )
    letter = letter_add(
        actor=team.officer,
        person=team.person,
        clinician="Test Clinician",
        signed_on=today - 30 * DAY,
        valid_until=today + days_left * DAY,
        content=picture("letter"),
        now=now,
    )
    certificate_verify(actor=team.liaison, certificate=letter.document, doses=[], now=now)
    return letter.valid_until


def test_a_checked_letter_has_its_last_day_as_a_date_until_it_is_voided(team: Team, now: datetime) -> None:
    last = _with_letter(team, now, 3)
    assert [(due.kind, due.due_on) for due in team.person.dues.all()] == [("letter", last)]
    letter_void(actor=team.officer, letter=team.person.letters.get(), reason="taken back", now=now)
    assert not team.person.dues.exists()


@pytest.mark.parametrize(("days_left", "told"), [(9, 0), (8, 2), (7, 2), (1, 2), (0, 1), (-1, 0)])
def test_a_letter_that_runs_out_is_told_to_member_liaison_and_officer_in_time(
    team: Team, now: datetime, days_left: int, told: int
) -> None:
    """A week ahead and on its last day, the day included; the day after it, it is late as all else is."""
    last = _with_letter(team, now, days_left)
    notices_reconcile(now=now)
    found = [row for row in rows() if row[0] != "dates-late"]
    expected = [("letter-soon", last - 7 * DAY), ("letter-today", last)][-told:] if told else []
    assert [(kind, on) for kind, who, on, _mail in found if who == "member"] == expected
    for who, mail in (("liaison", "liaison@example.org"), ("officer", "officer@example.org")):
        sent = [(kind.split("-")[1], on) for kind, each, on, to in found if (each, to) == (who, mail)]
        assert sent == [(kind.split("-")[1], on) for kind, on in expected]
    assert any(row[0] == "dates-late" for row in rows()) is (days_left < 0)
    for notice in Notice.objects.all():
        assert still_true(notice, now)
        mail_of = build_mail(notice, team.site.local_date(now))
        parts = [str(part.get_content()) for part in mail_of.walk() if not part.is_multipart()]
        words = set(re.findall(r"[a-z]+", " ".join([mail_of["Subject"], *parts]).casefold()))
        assert not words & {*HEALTH, "letter", "clinician", "immunocompromised", "clearance"}


def test_a_site_whose_officer_stands_in_for_the_liaison_writes_once(team: Team, now: datetime) -> None:
    SiteRole.objects.filter(site=team.site, role="liaison").delete()
    _with_letter(team, now, 3)
    notices_reconcile(now=now)
    assert [row[3] for row in rows("dates-soon")] == ["officer@example.org"]


def test_a_longer_letter_takes_the_notices_back(team: Team, now: datetime) -> None:
    _with_letter(team, now, 3)
    notices_reconcile(now=now)
    today = team.site.local_date(now)
    letter = letter_add(
        actor=team.officer,
        person=team.person,
        clinician="Test Clinician",
        signed_on=today,
        valid_until=today + 90 * DAY,
        content=picture("longer"),
        now=now,
    )
    certificate_verify(actor=team.liaison, certificate=letter.document, doses=[], now=now)
    notices_reconcile(now=now)
    assert rows() == []
