"""A clinic that closes or runs out is told to who sends people out in the next three days."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from safety.models import Notice
from safety.services.clinic.clinics import clinic_confirm
from safety.services.notices.notices import still_true
from staff.services.outing.outings import outing_cancel
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person

pytestmark = pytest.mark.django_db


def say(team: Team, now: datetime, **changed: Any) -> None:
    said = {"vaccine": "yes", "immunoglobulin": "yes", **changed}
    clinic_confirm(actor=team.liaison, clinic=team.clinic, now=now, **said)


def written_to() -> list[str]:
    return sorted(Notice.objects.filter(kind="clinic-lacks").values_list("email", flat=True))


@pytest.mark.parametrize("changed", [{"vaccine": "no"}, {"immunoglobulin": "no"}, {"active": False}])
def test_officers_and_leads_of_near_outings_are_told_once_a_change(
    team: Team, now: datetime, changed: dict[str, object]
) -> None:
    lead = make_person(team.site, team.officer, now, number="8", name="Lead")
    give_doses(lead, team.officer, now, 30, 23, 9)
    outing, crew = make_outing(team.site, team.officer, now, days_ahead=3)
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=lead, role="lead", now=now)
    say(team, now)
    assert written_to() == []
    say(team, now, **changed)
    say(team, now + timedelta(minutes=1), **changed)
    assert written_to() == ["officer@example.org", "p8@example.org"]
    assert all(still_true(row, now) for row in Notice.objects.filter(kind="clinic-lacks"))


@pytest.mark.parametrize("days_ahead", [4, 30])
def test_with_no_outing_in_the_next_three_days_nobody_is_told(
    team: Team, now: datetime, days_ahead: int
) -> None:
    make_outing(team.site, team.officer, now, days_ahead=days_ahead)
    say(team, now, vaccine="no")
    assert written_to() == []


def test_a_cancelled_outing_is_no_outing(team: Team, now: datetime) -> None:
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=1)
    outing_cancel(actor=team.officer, outing=outing, reason="rain", now=now)
    say(team, now, vaccine="no")
    assert written_to() == []


def test_stocked_again_before_the_mail_leaves_nothing_is_said_and_empty_again_it_is(
    team: Team, now: datetime
) -> None:
    make_outing(team.site, team.officer, now, days_ahead=1)
    say(team, now, vaccine="no")
    row = Notice.objects.get(kind="clinic-lacks")
    say(team, now)
    assert not still_true(row, now)
    say(team, now, vaccine="no")
    assert written_to() == ["officer@example.org"] * 2


def test_a_clinic_that_is_out_of_use_tells_nothing_of_its_stock(team: Team, now: datetime) -> None:
    say(team, now, active=False)
    make_outing(team.site, team.officer, now, days_ahead=1)
    say(team, now, active=False, vaccine="no")
    assert written_to() == []
