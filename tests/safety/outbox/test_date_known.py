"""By which date somebody knows an outing, whatever happened to their place; and on again after a mail said off."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from safety.emails.build import build_mail
from safety.models import Notice
from safety.selectors.upkeep.verify import differences
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import Assignment
from staff.planning.roster_values import ProposedRoster
from staff.selectors.outing.roster_board import roster_board
from staff.selectors.outing.roster_proposal import propose_roster
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster_fill import roster_fill, roster_fingerprint
from staff.services.record.holds import hold_place
from tests.factories import Team, give_doses, make_outing
from tests.safety.outbox.test_people_notices import on_outing, put, take_off, told

pytestmark = pytest.mark.django_db
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


def send_all() -> None:
    Notice.objects.filter(state="waiting").update(state="sent")


def held_now(assignment: Assignment) -> Assignment:
    return assignment.outing.assignments.select_related("outing", "crew", "person").get()


def test_taken_off_and_put_back_after_a_move_they_still_hear_of_the_move(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 5)
    outing, old = assignment.outing, assignment.outing.date
    outing_move(actor=team.officer, outing=outing, date=old + DAY, now=now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    (row,) = told("outing-moved")
    take_off(team, held_now(assignment), now + 2 * MINUTE)
    notices_reconcile(now=now + 2 * MINUTE)
    put(team, outing, now + 3 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    row.refresh_from_db()
    assert row.state == "waiting" and still_true(row, now + 3 * MINUTE)


def test_put_on_after_the_move_and_taken_off_they_are_told_by_the_new_date(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 9)
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=9)
    outing_move(actor=team.officer, outing=outing, date=outing.date - 7 * DAY, now=now + MINUTE)
    take_off(team, put(team, outing, now + 2 * MINUTE), now + 3 * MINUTE)
    notices_reconcile(now=now + 4 * MINUTE)
    (row,) = told()
    assert (row.kind, row.when_on) == ("roster-off", outing.date)


@pytest.mark.parametrize("filled_first", [True, False])
def test_who_a_proposal_put_on_knows_the_date_of_that_hour(
    team: Team, now: datetime, filled_first: bool
) -> None:
    team.person.crew_roles.get_or_create(role="catcher")
    give_doses(team.person, team.officer, now, 30, 23, 9)
    outing, _crew = make_outing(team.site, team.officer, now, days_ahead=2)
    old, new = outing.date, outing.date + DAY
    first = team.site.local_date(now)
    if not filled_first:
        outing_move(actor=team.officer, outing=outing, date=new, now=now + MINUTE)
    plan: ProposedRoster = propose_roster(roster_board(team.site, first, 5), first).plan
    seen, at = roster_fingerprint(plan), now + 2 * MINUTE
    (row,) = roster_fill(actor=team.officer, site=team.site, first=first, days=5, seen=seen, now=at)
    if filled_first:
        outing_move(actor=team.officer, outing=outing, date=new, now=now + 3 * MINUTE)
    take_off(team, held_now(row), now + 4 * MINUTE)
    notices_reconcile(now=now + 5 * MINUTE)
    assert [notice.when_on for notice in told()] == [old if filled_first else new]


def test_told_of_the_move_they_are_told_to_be_off_by_its_date(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 5)
    new = assignment.outing.date + 10 * DAY
    outing_move(actor=team.officer, outing=assignment.outing, date=new, now=now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    send_all()
    take_off(team, held_now(assignment), now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert [(row.kind, row.when_on) for row in told("roster-off")] == [("roster-off", new)]


def test_a_rule_takes_off_after_an_untold_move_and_the_mail_names_the_old_date(
    team: Team, now: datetime
) -> None:
    outing = on_outing(team, now, 5).outing
    old = outing.date
    outing_move(actor=team.officer, outing=outing, date=old + 9 * DAY, now=now + MINUTE)
    hold_place(actor=team.officer, person=team.person, starts_on=old, reason="scan", now=now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert [(row.kind, row.when_on) for row in told()] == [("roster-off", old)]


# On again


def off_told(team: Team, now: datetime) -> Assignment:
    assignment = on_outing(team, now, 2)
    take_off(team, assignment, now)
    notices_reconcile(now=now)
    send_all()
    return assignment


def test_on_again_is_said_once_and_by_the_date_of_now(team: Team, now: datetime) -> None:
    outing = off_told(team, now).outing
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now + MINUTE)
    put(team, outing, now + 2 * MINUTE)
    for _tick in range(2):
        notices_reconcile(now=now + 3 * MINUTE)
    (row,) = told("roster-on-again")
    assert (row.when_on, row.email) == (outing.date, "p7@example.org")
    assert told("outing-moved") == []
    assert still_true(row, now + 3 * MINUTE)
    assert str(row.when_on.day) in build_mail(row, team.site.local_date(now))["Subject"]
    send_all()
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now + 4 * MINUTE)
    notices_reconcile(now=now + 5 * MINUTE)
    assert [one.when_on for one in told("outing-moved")] == [outing.date]
    assert len(told("roster-on-again")) == 1


def test_moved_before_the_word_left_it_names_the_new_date_alone(team: Team, now: datetime) -> None:
    outing = off_told(team, now).outing
    put(team, outing, now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    (first,) = told("roster-on-again")
    outing_move(actor=team.officer, outing=outing, date=outing.date + DAY, now=now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    assert not still_true(first, now + 3 * MINUTE)
    assert [row.when_on for row in told("roster-on-again")] == [outing.date]
    assert told("outing-moved") == []


@pytest.mark.parametrize("how", ["off", "cancelled"])
def test_off_again_or_cancelled_before_it_left_nobody_is_said_to_be_on(
    team: Team, now: datetime, how: str
) -> None:
    outing = off_told(team, now).outing
    again = put(team, outing, now + MINUTE)
    notices_reconcile(now=now + MINUTE)
    (row,) = told("roster-on-again")
    assert list(differences()) == []
    if how == "off":
        take_off(team, again, now + 2 * MINUTE)
    else:
        outing_cancel(actor=team.officer, outing=outing, reason="flood", now=now + 2 * MINUTE)
    assert not still_true(row, now + 2 * MINUTE)
    assert "isn't on the outing" in str(list(differences()))
    notices_reconcile(now=now + 3 * MINUTE)
    assert told("roster-on-again") == []
    assert list(differences()) == []


def test_a_first_notice_is_dropped_once_a_later_withdrawal_has_its_own(team: Team, now: datetime) -> None:
    assignment = on_outing(team, now, 2)
    take_off(team, assignment, now)
    notices_reconcile(now=now)
    (first,) = told()
    take_off(team, put(team, assignment.outing, now + MINUTE), now + 2 * MINUTE)
    notices_reconcile(now=now + 3 * MINUTE)
    rows = told("roster-off")
    assert [row.pk for row in rows if still_true(row, now + 3 * MINUTE)] == [rows[-1].pk]
    assert not still_true(first, now + 3 * MINUTE)
