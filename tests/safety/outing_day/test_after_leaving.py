"""A crew that left: its outing is not moved or called off under it, and nobody uncleared goes along."""

from __future__ import annotations

from datetime import timedelta

import pytest

from safety.services.crew_roll import Absent, Roll
from staff.errors import Refused
from staff.models import ClearancePending
from staff.services.roster import outing_cancel, outing_move
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def test_an_outing_whose_crew_left_today_moved_to_tomorrow_can_leave_tomorrow(day: Day) -> None:
    day.leave()
    try:
        outing_move(actor=day.team.officer, outing=day.outing, date=day.outing.date + DAY, now=day.now + HOUR)
    except Refused:
        return
    day.leave(now=day.now + DAY)


def test_a_crew_that_left_can_bring_back_what_happened_when_its_outing_is_called_off(day: Day) -> None:
    day.leave()
    try:
        outing_cancel(actor=day.team.officer, outing=day.outing, reason="storm", now=day.now + HOUR)
    except Refused:
        return
    day.back(now=day.now + 2 * HOUR, none_said=False, incidents=1)


def test_a_crew_that_left_and_was_moved_to_next_week_can_still_say_what_happened(day: Day) -> None:
    day.leave()
    try:
        outing_move(
            actor=day.team.officer, outing=day.outing, date=day.outing.date + 7 * DAY, now=day.now + HOUR
        )
    except Refused:
        return
    day.back(now=day.now + 2 * HOUR, none_said=False, incidents=1)


def test_nobody_whose_clearance_waits_to_be_recomputed_leaves_unlooked_at(day: Day) -> None:
    """`here` with a mark: either the service computes anew or it refuses; it never leaves the mark and lets go."""
    person = day.people["catcher"]
    ClearancePending.objects.create(person=person)
    try:
        day.leave()
    except Refused:
        return
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
