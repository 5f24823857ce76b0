"""Holds that somebody mistyped: refused where they are placed, for a record that shows one is drawn by its dates."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from staff.ground.errors import Invalid
from staff.models import Hold
from staff.services.record.clearance import need_reason
from staff.services.record.holds import AHEAD, hold_place
from tests.factories import Team

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("starts_on", [date(1, 1, 1), date(1969, 12, 31), date(9999, 12, 31)])
def test_a_day_that_cant_be_is_refused(team: Team, now: datetime, starts_on: date) -> None:
    with pytest.raises(Invalid) as refused:
        hold_place(actor=team.officer, person=team.person, starts_on=starts_on, reason="fell", now=now)
    assert set(refused.value.fields) == {"starts_on"} and not Hold.objects.exists()


def test_the_last_day_that_may_be_is_taken_and_the_next_refused(team: Team, now: datetime) -> None:
    last = team.site.local_date(now) + AHEAD
    with pytest.raises(Invalid):
        hold_place(
            actor=team.officer, person=team.person, starts_on=last + timedelta(days=1), reason="fell", now=now
        )
    assert hold_place(actor=team.officer, person=team.person, starts_on=last, reason="fell", now=now).pk


@pytest.mark.parametrize("reason", ["\u200b", " \u200b\u2060 ", "\ufeff"])
def test_what_nobody_can_read_is_no_reason(reason: str) -> None:
    with pytest.raises(Invalid):
        need_reason(reason)
    assert need_reason("\u200bwrong person") == "\u200bwrong person"
