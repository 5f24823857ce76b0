"""Reminders come at the hour of the reader's clocks, while every date stays one of the site's calendar."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from safety.models import Notice
from safety.selectors.upkeep.verify import differences
from safety.services.notices.notices import notices_reconcile
from staff.models import AuditEntry, Site, User
from tests.factories import Team
from tests.safety.outbox.samples import make_course

pytestmark = pytest.mark.django_db


def hours(team: Team, zone: str) -> set[int]:
    rows = Notice.objects.filter(user=team.liaison, course__isnull=False, state="waiting")
    return {row.due_at.astimezone(ZoneInfo(zone)).hour for row in rows if row.step and row.step > 2}


def test_waiting_notices_move_to_the_readers_hour_and_back(team: Team, now: datetime) -> None:
    make_course(team, now)
    notices_reconcile(now=now)
    assert hours(team, "Africa/Nairobi") == {7}
    client = Client()
    client.force_login(team.liaison)
    assert client.post("/account/clocks/", {"time_zone": "Asia/Kolkata"}).status_code == 302
    assert AuditEntry.objects.filter(action="account.clocks", actor=team.liaison).exists()
    notices_reconcile(now=now)
    assert hours(team, "Asia/Kolkata") == {7}
    assert not list(differences())
    assert client.post("/account/clocks/", {"time_zone": ""}).status_code == 302
    notices_reconcile(now=now)
    assert hours(team, "Africa/Nairobi") == {7} and not list(differences())
    assert client.post("/account/clocks/", {"time_zone": "Nowhere/Else"}).status_code == 400


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Honolulu"])
def test_what_is_due_today_at_an_asian_site_is_told_before_its_day_is_over(
    team: Team, now: datetime, zone: str
) -> None:
    Site.objects.filter(pk=team.site.pk).update(time_zone="Asia/Manila")
    User.objects.filter(pk=team.liaison.pk).update(time_zone=zone)
    team.site.refresh_from_db()
    team.person.refresh_from_db()
    make_course(team, now)
    notices_reconcile(now=now)
    rows = Notice.objects.filter(user=team.liaison, kind="day-of")
    assert rows and all(row.due_at.astimezone(team.site.zone).date() <= row.send_on for row in rows)
    assert all(row.send_on == row.when_on for row in rows)
    assert all(row.due_at.astimezone(team.site.zone).hour <= 7 or row.zone == zone for row in rows)


def test_a_zone_that_no_longer_exists_keeps_nobody_from_being_told(team: Team, now: datetime) -> None:
    User.objects.filter(pk=team.liaison.pk).update(time_zone="Old/Name")
    make_course(team, now)
    notices_reconcile(now=now)
    assert hours(team, "Africa/Nairobi") == {7}
