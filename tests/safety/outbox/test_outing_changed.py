"""Another start or meeting place is told to who knew the old one, once; the mail names the hour and never the place."""

from __future__ import annotations

from datetime import datetime, time, timedelta

import pytest

from safety.emails.build import build_mail
from safety.models import Notice
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import Assignment
from staff.rules.outing.outing_details import OutingDetails
from staff.services.outing.outing_details import outing_change
from staff.services.outing.outings import outing_cancel, outing_move
from tests.factories import Team
from tests.safety.outbox.test_people_notices import on_outing, put, take_off, told

pytestmark = pytest.mark.django_db
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)
EARLY = OutingDetails(start_time=time(5, 45), meeting_place="Old mill", day_phone="000 1")


def change(team: Team, row: Assignment, details: OutingDetails, at: datetime) -> None:
    outing_change(actor=team.officer, outing=row.outing, details=details, now=at)
    notices_reconcile(now=at)


def test_who_is_on_it_is_told_once_and_the_mail_names_no_place(team: Team, now: datetime) -> None:
    row = on_outing(team, now, 5)
    change(team, row, EARLY, now + MINUTE)
    notices_reconcile(now=now + 2 * MINUTE)
    (notice,) = told("outing-changed")
    assert (notice.email, notice.when_on) == ("p7@example.org", row.outing.date)
    mail = str(build_mail(notice, team.site.local_date(now)))
    assert "05:45" in mail and f"/outings/{row.outing_id}/" in mail
    assert "mill" not in mail and "000 1" not in mail and "Test Area" not in mail
    Notice.objects.filter(state="waiting").update(state="sent")
    notices_reconcile(now=now + 3 * MINUTE)
    assert len(told("outing-changed")) == 1


def test_telephone_and_note_make_no_mail(team: Team, now: datetime) -> None:
    change(team, on_outing(team, now, 5), OutingDetails(day_phone="000 2", note="nets"), now + MINUTE)
    assert told("outing-changed") == []


def test_put_on_afterwards_they_know_it(team: Team, now: datetime) -> None:
    row = on_outing(team, now, 5)
    take_off(team, row, now)
    change(team, row, EARLY, now + MINUTE)
    put(team, row.outing, now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert told("outing-changed") == []


def test_changed_back_unsaid_nothing_is_sent(team: Team, now: datetime) -> None:
    row = on_outing(team, now, 5)
    change(team, row, EARLY, now + MINUTE)
    (first,) = told("outing-changed")
    change(team, row, OutingDetails(note="x"), now + 2 * MINUTE)
    assert not still_true(first, now + 2 * MINUTE)
    assert [one.state for one in Notice.objects.filter(kind="outing-changed")] != ["waiting"]


def test_told_once_a_second_change_is_told_too_and_back_again_as_well(team: Team, now: datetime) -> None:
    row = on_outing(team, now, 5)
    change(team, row, EARLY, now + MINUTE)
    Notice.objects.filter(state="waiting").update(state="sent")
    change(team, row, OutingDetails(), now + 2 * MINUTE)
    assert len(told("outing-changed")) == 2


def test_a_move_says_the_new_hour_and_no_second_mail_goes(team: Team, now: datetime) -> None:
    row = on_outing(team, now, 5)
    outing_change(actor=team.officer, outing=row.outing, details=EARLY, now=now + MINUTE)
    outing_move(actor=team.officer, outing=row.outing, date=row.outing.date + DAY, now=now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert told("outing-changed") == []
    (moved,) = told("outing-moved")
    assert "05:45" in str(build_mail(moved, team.site.local_date(now)))


def test_cancelled_before_it_left_it_isnt_sent(team: Team, now: datetime) -> None:
    row = on_outing(team, now, 5)
    change(team, row, EARLY, now + MINUTE)
    (notice,) = told("outing-changed")
    outing_cancel(actor=team.officer, outing=row.outing, reason="flood", now=now + 2 * MINUTE)
    assert not still_true(notice, now + 2 * MINUTE)
