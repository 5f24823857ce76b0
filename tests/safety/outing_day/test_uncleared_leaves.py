"""Somebody whose record stopped clearing them a moment ago does not leave with the crew."""

from __future__ import annotations

import pytest

from safety.models import DeparturePerson
from staff.ground.errors import Refused
from staff.models import Hold
from staff.selectors.record.readiness import readiness_of
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db


def test_who_is_held_past_the_services_does_not_leave_before_the_recompute(day: Day) -> None:
    """The trigger marks the person; until the tick comes the roster still names them, and so does the roll."""
    person = day.people["catcher"]
    Hold.objects.create(
        person=person,
        starts_on=day.outing.date,
        reason="scan",
        placed_by=day.team.officer,
        placed_at=day.now,
    )
    assert not readiness_of(person, day.outing.date).clear
    try:
        day.leave()
    except Refused:
        return
    assert not DeparturePerson.objects.filter(person=person, present=True).exists()
