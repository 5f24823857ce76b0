"""Whoever changes places, leaves twice or is moved hears of each change once, and of none never."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from safety.models import Notice
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import PersonCrewRole
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster_changes import Seat, roster_replace
from tests.factories import Team
from tests.safety.outbox.test_people_notices import on_outing, put, take_off, told

pytestmark = pytest.mark.django_db
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


def test_taken_off_put_back_and_taken_off_again_is_told_once(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 2)
    take_off(team, assignment, now)
    again = put(team, assignment.outing, now + MINUTE)
    take_off(team, again, now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    rows = [row for row in told("roster-off") if still_true(row, now + 3 * MINUTE)]
    assert len(rows) == 1


def test_who_changed_crew_roles_and_is_taken_off_days_later_is_told_once(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 2)
    PersonCrewRole.objects.get_or_create(person=team.person, role="recorder")
    seat = Seat(assignment.crew, team.person, "recorder")
    new = roster_replace(
        actor=team.officer, assignment=assignment, seat=seat, reason="swapped", now=now + MINUTE
    )
    notices_reconcile(now=now + 2 * MINUTE)
    assert told() == []
    take_off(team, new, now + DAY)
    notices_reconcile(now=now + DAY + MINUTE)
    assert len(told("roster-off")) == 1


def test_who_changed_crew_roles_is_told_once_that_the_outing_is_cancelled(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 2)
    PersonCrewRole.objects.get_or_create(person=team.person, role="recorder")
    seat = Seat(assignment.crew, team.person, "recorder")
    roster_replace(actor=team.officer, assignment=assignment, seat=seat, reason="swapped", now=now + MINUTE)
    notices_reconcile(now=now + 2 * MINUTE)
    outing_cancel(actor=team.officer, outing=assignment.outing, reason="flood", now=now + DAY)
    notices_reconcile(now=now + DAY + MINUTE)
    assert [row.kind for row in told()] == ["outing-off"]


def test_who_was_told_to_be_off_and_is_put_back_learns_that_they_are_on_again(
    team: Team, now: datetime
) -> None:
    assignment = on_outing(team, now, 2)
    take_off(team, assignment, now)
    notices_reconcile(now=now)
    (row,) = told()
    Notice.objects.filter(pk=row.pk).update(state="sent")
    put(team, assignment.outing, now + MINUTE)
    notices_reconcile(now=now + 2 * MINUTE)
    assert len(told()) == 2


def test_who_changes_crew_roles_before_the_mail_left_still_hears_of_the_move(
    team: Team, now: datetime
) -> None:
    assignment = on_outing(team, now, 5)
    PersonCrewRole.objects.get_or_create(person=team.person, role="recorder")
    outing = assignment.outing
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    (row,) = told("outing-moved")
    held = outing.assignments.select_related("outing", "crew", "person").get()
    seat = Seat(held.crew, team.person, "recorder")
    roster_replace(actor=team.officer, assignment=held, seat=seat, reason="swapped", now=now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    row.refresh_from_db()
    assert row.state == "waiting" and still_true(row, now + 3 * MINUTE)


def test_who_is_taken_off_after_an_untold_move_is_told_by_the_date_they_knew(
    team: Team, now: datetime
) -> None:
    assignment = on_outing(team, now, 1)
    outing = assignment.outing
    old = outing.date
    outing_move(actor=team.officer, outing=outing, date=old + DAY, now=now + MINUTE)
    held = outing.assignments.select_related("outing", "crew", "person").get()
    take_off(team, held, now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    (row,) = told()
    assert row.when_on == old


def test_who_is_taken_off_after_an_untold_move_far_ahead_is_told_at_all(team: Team, now: datetime) -> None:
    """Tomorrow by what they know: nobody told them that it was moved to next week, nor that they are off."""
    assignment = on_outing(team, now, 1)
    outing = assignment.outing
    outing_move(actor=team.officer, outing=outing, date=outing.date + 9 * DAY, now=now + MINUTE)
    held = outing.assignments.select_related("outing", "crew", "person").get()
    take_off(team, held, now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert len(told()) == 1
