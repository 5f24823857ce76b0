"""A crew that left: its outing is not moved or called off under it, and nobody uncleared goes along."""

from __future__ import annotations

from datetime import timedelta

import pytest

from safety.services.crew_day.crew_roll import Absent, Roll
from staff.ground.errors import Refused
from staff.models import ClearancePending
from staff.services.outing.outings import outing_cancel, outing_move
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


@pytest.mark.parametrize("days", [1, 7])
def test_the_outing_of_a_crew_that_left_is_not_moved_and_its_return_is_recorded(day: Day, days: int) -> None:
    day.leave()
    later = day.outing.date + days * DAY
    with pytest.raises(Refused, match="has left") as refused:
        outing_move(actor=day.team.officer, outing=day.outing, date=later, now=day.now + HOUR)
    assert refused.value.code == "crew-left"
    day.outing.refresh_from_db()
    assert day.outing.date == later - days * DAY
    assert day.back(now=day.now + 2 * HOUR, none_said=False, incidents=1).incidents == 1


def test_the_outing_of_a_crew_that_left_is_not_called_off_and_its_return_is_recorded(day: Day) -> None:
    day.leave()
    with pytest.raises(Refused, match="has left") as refused:
        outing_cancel(actor=day.team.officer, outing=day.outing, reason="storm", now=day.now + HOUR)
    assert refused.value.code == "crew-left"
    day.outing.refresh_from_db()
    assert day.outing.cancelled_at is None
    assert day.back(now=day.now + 2 * HOUR, none_said=False, incidents=1).incidents == 1


def test_nobody_whose_clearance_waits_to_be_recomputed_leaves_unlooked_at(day: Day) -> None:
    """`here` with a mark: the service computes anew, finds the person clear still and lets go."""
    person = day.people["catcher"]
    ClearancePending.objects.create(person=person)
    assert person in [row.person for row in day.leave().people.all()]
    assert not ClearancePending.objects.filter(person=person).exists()


def test_two_absent_with_the_same_replacement_is_refused_whole(day: Day) -> None:
    first, second = day.people["catcher"], day.people["recorder"]
    roll = Roll(
        day.here(first, second),
        (Absent(first.pk, "late", day.spare), Absent(second.pk, "late", day.spare)),
    )
    with pytest.raises(Refused):
        day.leave(roll=roll)
    assert day.crew.assignments.count() == 4
