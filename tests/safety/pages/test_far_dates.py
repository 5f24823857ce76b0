"""Dates at the ends of the calendar: a slip of the pen gets a sentence, not a broken page."""

from __future__ import annotations

import pytest
from django.urls import reverse

from safety.models import Incident, WashSpell
from tests.factories import Team
from tests.safety.pages.scenes import answers, make_case, signed_in_as, text_of

pytestmark = pytest.mark.django_db
# In a zone east of Greenwich the first midnight lies before the calendar, west of it the last one after it.
ENDS = [("0001-01-01", "00:00", "Africa/Nairobi"), ("9999-12-31", "23:59", "America/New_York")]


@pytest.mark.parametrize(("day", "clock", "zone"), ENDS)
def test_a_report_with_a_year_that_cannot_be_is_answered_in_words(
    team: Team, day: str, clock: str, zone: str
) -> None:
    team.site.time_zone = zone
    team.site.save()
    page = signed_in_as(team.member).post("/report/", answers(team, day=day, clock=clock))
    assert page.status_code == 400 and "check the year" in text_of(page)
    assert not Incident.objects.exists()


@pytest.mark.parametrize(("day", "clock", "zone"), ENDS)
def test_washing_written_down_with_such_a_year_is_answered_in_words(
    team: Team, day: str, clock: str, zone: str
) -> None:
    incident = make_case(team)
    team.site.time_zone = zone
    team.site.save()
    page = signed_in_as(team.member).post(
        reverse("case-washing", args=[incident.reference]),
        {"day": day, "started": clock, "stopped": clock, "soap": "yes"},
    )
    assert page.status_code == 400 and "check the year" in text_of(page)
    assert not WashSpell.objects.exists()
