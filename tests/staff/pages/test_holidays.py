"""The site's calendar of holidays."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from staff.models import AuditEntry, SiteHoliday
from tests.factories import Team

pytestmark = pytest.mark.django_db


def officer_of(team: Team) -> Client:
    client = Client()
    client.force_login(team.officer)
    return client


def add(team: Team, days: int, name: str = "Harvest Day") -> int:
    day = team.site.local_date(timezone.now()) + timedelta(days=days)
    url = reverse("site-holidays", args=[team.site.code])
    return officer_of(team).post(url, {"day": day.isoformat(), "name": name}).status_code


def test_a_date_is_listed_once_and_told_in_the_audit_trail(team: Team) -> None:
    assert (add(team, 0), add(team, 5), add(team, 5)) == (302, 302, 409)
    assert SiteHoliday.objects.count() == AuditEntry.objects.filter(action="holiday.added").count() == 2
    page = officer_of(team).get(reverse("site-holidays", args=[team.site.code])).content.decode()
    assert page.count("Harvest Day") >= 2


@pytest.mark.parametrize(("days", "name"), [(-1, "Late"), (366 * 4, "Far"), (3, "  ")])
def test_what_is_no_coming_holiday_is_refused(team: Team, days: int, name: str) -> None:
    assert add(team, days, name) == 400
    assert not SiteHoliday.objects.exists()


def test_a_date_taken_off_leaves_its_name_in_the_audit_trail(team: Team) -> None:
    add(team, 5)
    holiday = SiteHoliday.objects.get()
    officer_of(team).post(reverse("holiday-remove", args=[team.site.code, holiday.pk]))
    assert not SiteHoliday.objects.exists()
    assert AuditEntry.objects.get(action="holiday.removed").detail["name"] == "Harvest Day"
