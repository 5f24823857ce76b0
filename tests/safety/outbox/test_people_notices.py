"""People on an outing are told what changes: off it, called off, another date."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from safety.models import Notice
from safety.services.notices.feed import feed_make, feed_refresh
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import Assignment, Outing
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.record.holds import hold_place
from tests.factories import Team, give_doses, make_outing, make_person

pytestmark = pytest.mark.django_db
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


def on_outing(team: Team, now: datetime, days_ahead: int) -> Assignment:
    give_doses(team.person, team.officer, now, 30, 23, 9)
    outing, crew = make_outing(team.site, team.officer, now, days_ahead=days_ahead)
    return put(team, outing, now)


def put(team: Team, outing: Outing, now: datetime) -> Assignment:
    crew = outing.crews.get()
    return roster_assign(
        actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
    )


def take_off(team: Team, assignment: Assignment, now: datetime) -> None:
    roster_withdraw(actor=team.officer, assignment=assignment, reason="ill", now=now)


def told(kind: str | None = None) -> list[Notice]:
    """What the person was or will be told."""
    rows = Notice.objects.exclude(says="").filter(outing__isnull=False, person__isnull=False)
    rows = rows.filter(kind=kind) if kind else rows
    return list(rows.exclude(state="withdrawn").order_by("pk"))


def test_who_a_rule_takes_off_is_told_at_once_at_their_own_address(team: Team, now: datetime) -> None:
    outing = on_outing(team, now, 20).outing
    hold_place(actor=team.officer, person=team.person, starts_on=outing.date, reason="scan", now=now)
    notices_reconcile(now=now)
    (row,) = told()
    assert (row.kind, row.email, row.when_on) == ("roster-off", "p7@example.org", outing.date)
    assert row.due_at <= now
    notices_reconcile(now=now + MINUTE)
    assert len(told()) == 1
    assert Notice.objects.filter(kind="roster-change", user=team.officer).count() == 1


@pytest.mark.parametrize(("days_ahead", "number"), [(3, 1), (4, 0)])
def test_taken_off_by_hand_one_is_told_when_the_outing_is_within_three_days(
    team: Team, now: datetime, days_ahead: int, number: int
) -> None:
    take_off(team, on_outing(team, now, days_ahead), now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    assert len(told("roster-off")) == number


def test_whose_calendar_showed_the_outing_is_told_however_far_ahead_it_is(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 20)
    feed_refresh(feed=feed_make(user=team.member, now=now).feed, now=now)
    take_off(team, assignment, now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    assert len(told("roster-off")) == 1


def test_put_back_before_the_mail_leaves_nothing_is_said(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 2)
    outing = assignment.outing
    take_off(team, assignment, now)
    notices_reconcile(now=now)
    (row,) = told()
    put(team, outing, now + MINUTE)
    assert not still_true(row, now + MINUTE)


def test_a_cancelled_outing_is_told_to_its_people_and_once_to_each_officer(team: Team, now: datetime) -> None:
    outing = on_outing(team, now, 20).outing
    mate = make_person(team.site, team.officer, now, number="8", name="Mate")
    give_doses(mate, team.officer, now, 30, 23, 9)
    roster_assign(
        actor=team.officer, outing=outing, crew=outing.crews.get(), person=mate, role="lead", now=now
    )
    outing_cancel(actor=team.officer, outing=outing, reason="flood", now=now + MINUTE)
    for _tick in range(2):
        notices_reconcile(now=now + MINUTE)
    found = Notice.objects.filter(kind="outing-off").order_by("email")
    assert [row.email for row in found] == ["officer@example.org", "p7@example.org", "p8@example.org"]
    assert all(still_true(row, now + MINUTE) for row in found)
    assert not Notice.objects.filter(kind__in=["roster-off", "roster-change"]).exists()


def test_a_moved_outing_is_told_with_its_new_date(team: Team, now: datetime) -> None:
    outing = on_outing(team, now, 5).outing
    old, new = outing.date, outing.date + 3 * DAY
    outing_move(actor=team.officer, outing=outing, date=new, now=now + MINUTE, reason="market day")
    notices_reconcile(now=now + MINUTE)
    (row,) = told()
    assert (row.kind, row.when_on, row.email) == ("outing-moved", new, "p7@example.org")
    assert still_true(row, now + MINUTE)
    move = outing.moves.get()
    assert (move.old_date, move.new_date, move.reason, move.moved_by) == (
        old,
        new,
        "market day",
        team.officer,
    )


def test_moved_and_moved_back_before_anybody_heard_nothing_is_said(team: Team, now: datetime) -> None:
    outing = on_outing(team, now, 5).outing
    for number, date in enumerate([outing.date + DAY, outing.date], start=1):
        outing_move(actor=team.officer, outing=outing, date=date, now=now + number * MINUTE)
        notices_reconcile(now=now + number * MINUTE)
    assert told() == []


def test_moved_twice_the_mail_names_the_last_date_and_moved_back_after_it_another_is_sent(
    team: Team, now: datetime
) -> None:
    outing = on_outing(team, now, 5).outing
    first = outing.date
    for number in (1, 2):
        outing_move(actor=team.officer, outing=outing, date=first + number * DAY, now=now + number * MINUTE)
    notices_reconcile(now=now + 2 * MINUTE)
    (row,) = told()
    assert row.when_on == first + 2 * DAY
    Notice.objects.filter(pk=row.pk).update(state="sent")
    outing_move(actor=team.officer, outing=outing, date=first, now=now + 3 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert [one.when_on for one in told()] == [first + 2 * DAY, first]


def test_who_is_put_on_after_the_move_hears_nothing_of_it(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 9)
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=5)
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now)
    put(team, outing, now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    assert told() == []


def test_who_the_move_takes_off_is_told_by_the_date_they_knew(team: Team, now: datetime) -> None:
    outing = on_outing(team, now, 5).outing
    old = outing.date
    hold_place(actor=team.officer, person=team.person, starts_on=old + DAY, reason="scan", now=now)
    outing_move(actor=team.officer, outing=outing, date=old + 2 * DAY, now=now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    assert [(row.kind, row.when_on) for row in told()] == [("roster-off", old)]


def test_cancelled_after_the_move_nobody_is_sent_to_the_new_date(team: Team, now: datetime) -> None:
    outing = on_outing(team, now, 5).outing
    old = outing.date
    outing_move(actor=team.officer, outing=outing, date=old + DAY, now=now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    (moved,) = told()
    outing_cancel(actor=team.officer, outing=outing, reason="flood", now=now + 2 * MINUTE)
    assert not still_true(moved, now + 2 * MINUTE)
    notices_reconcile(now=now + 2 * MINUTE)
    assert [row.kind for row in told()] == ["outing-off"]


def test_an_outing_that_is_over_tells_nobody(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 0)
    take_off(team, assignment, now)
    notices_reconcile(now=now + DAY)
    assert told() == []
