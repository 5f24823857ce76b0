"""Officers are reminded of outings nobody was told of: on the day it is due at the site's hour, and the day after."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from safety import registry
from safety.models import Notice
from safety.notices.outing.community import COMMUNITY
from safety.selectors.notices.asked_once import asked_once
from safety.selectors.upkeep.verify import differences
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from staff.models import Outing, SiteRole
from staff.services.campaign.community import community_told_record, community_told_void
from staff.services.outing.outings import outing_cancel, outing_move
from tests.factories import Team, make_outing, make_user

COMMUNITY_KINDS = registry.names_of(COMMUNITY)

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def planned(team: Team, now: datetime, days_ahead: int = 10) -> Outing:
    return make_outing(team.site, team.officer, now, days_ahead=days_ahead)[0]


def rows(*states: str) -> list[tuple[str, str, str]]:
    """Kind, address and state, in order of the day they go out."""
    found = Notice.objects.filter(kind__in=COMMUNITY_KINDS).order_by("send_on", "email")
    return [(row.kind, row.email.split("@")[0], row.state) for row in found]


def ticks(now: datetime, days: int, sent: bool = False) -> None:
    """A tick a day at 9:00 of the site; `sent`: what was due by then has left."""
    for number in range(days):
        notices_reconcile(now=now + number * DAY)
        if sent:
            due = Notice.objects.filter(state="waiting", due_at__lte=now + number * DAY)
            due.filter(kind__in=COMMUNITY_KINDS).update(state="sent")


def test_nothing_is_written_before_the_third_day_before(team: Team, now: datetime) -> None:
    planned(team, now)
    ticks(now, 7)
    assert rows() == []


def test_on_the_due_day_the_officer_is_written_to_at_the_sites_hour(team: Team, now: datetime) -> None:
    """Two days ahead, common practice; 7:00 in Nairobi is 4:00 by UTC."""
    outing = planned(team, now)
    notices_reconcile(now=now + 7 * DAY)
    due = Notice.objects.get(kind="community-due")
    assert due.email == team.officer.email and due.outing_id == outing.pk
    assert due.send_on == outing.date - 2 * DAY
    assert (due.due_at.hour, due.due_at.date()) == (4, outing.date - 2 * DAY)
    assert still_true(due, now + 8 * DAY)


def test_untold_it_is_written_once_more_the_day_after_and_never_again(team: Team, now: datetime) -> None:
    planned(team, now)
    ticks(now, 14, sent=True)
    assert rows() == [("community-due", "officer", "sent"), ("community-late", "officer", "sent")]


def test_what_was_told_before_is_no_notice_and_what_is_told_meanwhile_withdraws_it(
    team: Team, now: datetime
) -> None:
    outing = planned(team, now)
    ticks(now, 9)
    due = Notice.objects.get(kind="community-due")
    told = tell(team, outing, now + 8 * DAY)
    assert not still_true(due, now + 8 * DAY)
    ticks(now + 8 * DAY, 3)
    assert {state for _kind, _email, state in rows()} == {"withdrawn"}
    community_told_void(actor=team.officer, told=told, reason="another lane", now=now + 9 * DAY)
    notices_reconcile(now=now + 9 * DAY)
    assert ("community-late", "officer", "waiting") in rows()
    assert ("community-due", "officer", "withdrawn") in rows()


def tell(team: Team, outing: Outing, now: datetime) -> object:
    return community_told_record(
        actor=team.officer,
        outing=outing,
        told_on=team.site.local_date(now),
        who="the elder",
        how="a visit",
        now=now,
    )


def test_a_late_word_ends_the_reminders_too(team: Team, now: datetime) -> None:
    outing = planned(team, now, days_ahead=1)
    notices_reconcile(now=now)
    assert rows() == [("community-late", "officer", "waiting")]
    tell(team, outing, now)
    notices_reconcile(now=now)
    assert rows() == [("community-late", "officer", "withdrawn")]


def test_planned_with_less_notice_than_is_asked_the_officer_is_told_that_day(
    team: Team, now: datetime
) -> None:
    outing = planned(team, now, days_ahead=1)
    notices_reconcile(now=now)
    late = Notice.objects.get(kind="community-late")
    assert late.due_at <= now and late.when_on == outing.date


def test_a_cancelled_outing_asks_for_nothing_and_verify_finds_what_still_waits(
    team: Team, now: datetime
) -> None:
    outing = planned(team, now)
    ticks(now, 8)
    outing_cancel(actor=team.officer, outing=outing, reason="rain", now=now + 7 * DAY)
    assert [row.stored for row in differences()] == ["waiting"]
    notices_reconcile(now=now + 7 * DAY)
    assert rows() == [("community-due", "officer", "withdrawn")]
    assert list(differences()) == []


def test_a_moved_outing_is_asked_about_by_its_new_date(team: Team, now: datetime) -> None:
    outing = planned(team, now)
    tell(team, outing, now)
    ticks(now, 8)
    assert rows() == []
    outing_move(actor=team.officer, outing=outing, date=outing.date + 5 * DAY, now=now + 7 * DAY)
    ticks(now + 7 * DAY, 6)
    assert rows() == [("community-due", "officer", "waiting")]
    outing.refresh_from_db()
    outing_move(actor=team.officer, outing=outing, date=outing.date + 5 * DAY, now=now + 12 * DAY)
    notices_reconcile(now=now + 12 * DAY)
    assert rows() == [("community-due", "officer", "withdrawn")]


def test_each_of_two_officers_is_written_to_once_and_planning_twice_adds_nothing(
    team: Team, now: datetime
) -> None:
    make_user("second", team.site, SiteRole.Role.OFFICER)
    planned(team, now)
    ticks(now, 9)
    ticks(now + 8 * DAY, 1)
    assert [row for row in rows() if row[0] == "community-due"] == [
        ("community-due", "officer", "waiting"),
        ("community-due", "second", "waiting"),
    ]


def test_the_number_of_outings_costs_no_queries(team: Team, now: datetime) -> None:
    counts = []
    for number in (2, 10):
        for each in range(number):
            outing = planned(team, now, days_ahead=2)
            Outing.objects.filter(pk=outing.pk).update(area=f"Lane {number} {each}")
        # As the tick's sweep does it.
        with asked_once(), CaptureQueriesContext(connection) as asked:
            origin_reconcile(origin=COMMUNITY, now=now)
        # The rows written are the work; the questions are what must not grow.
        counts.append(len([one for one in asked if one["sql"].startswith("SELECT")]))
    assert counts[0] == counts[1] <= 9
