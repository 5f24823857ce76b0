"""What a feed holds, for whom, and how it follows the record. Read with `vobject`, which shares no code with what writes it.

RFC 5545: 3.8.4.7 (UID), 3.8.7.4 (SEQUENCE), 3.8.1.11 (STATUS), 3.8.7.2 (DTSTAMP), 3.6.1 (whole days).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
import vobject

from safety.emails.feed import feed_text
from safety.models import CalendarFeed, Course, FeedEntry
from safety.services.animal.observation import outcome_record
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end
from safety.services.course.dose_voids import course_dose_void
from safety.services.course.plan import course_plan
from safety.services.notices.feed import feed_make, feed_refresh
from staff.models import SiteRole, User
from staff.services.campaign.campaigns import session_cancel
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing
from tests.safety.animal.scenes import local, watched
from tests.safety.outbox.samples import DAY, make_course, make_session

pytestmark = pytest.mark.django_db


def fetch(user: User, now: datetime) -> list[Any]:
    """The events of the account's feed as a program reads them at `now`, in order of their dates."""
    feed = CalendarFeed.objects.filter(user=user).first() or feed_make(user=user, now=now).feed
    text = feed_text(feed_refresh(feed=feed, now=now), "en").decode()
    return list(vobject.readOne(text).contents.get("vevent", []))


def said(event: Any) -> tuple[date, str, int]:
    """Date, status and sequence."""
    return event.dtstart.value, event.status.value, int(event.sequence.value)


def give(team: Team, course: Course, now: datetime, days: int = 0) -> Any:
    day = local(team, now + days * DAY)
    dose = course_dose_record(actor=team.liaison, course=course, given_on=day, now=now + days * DAY)
    course_plan(course_id=course.pk, now=now + days * DAY)
    return dose


@pytest.mark.parametrize("who", ["member", "liaison", "officer"])
def test_the_doses_of_a_course_stand_as_whole_days(team: Team, now: datetime, who: str) -> None:
    course = make_course(team, now)
    start = local(team, now)
    events = fetch(getattr(team, who), now)
    assert [said(event) for event in events] == [
        (start + timedelta(days=days), "CONFIRMED", 0) for days in (0, 3, 7, 14, 28)
    ]
    assert {event.summary.value for event in events} == {f"Date {course.incident.reference}"}
    assert {event.dtstart.params.get("VALUE", ["DATE"])[0] for event in events} == {"DATE"}


@pytest.mark.parametrize("who", ["stranger", "lead"])
def test_nobody_else_has_them(team: Team, now: datetime, who: str) -> None:
    make_course(team, now)
    assert fetch(getattr(team, who), now) == []


def test_asking_again_changes_nothing(team: Team, now: datetime) -> None:
    make_course(team, now)
    first = [str(event) for event in fetch(team.liaison, now)]
    assert [str(event) for event in fetch(team.liaison, now + timedelta(hours=1))] == first


def test_a_dose_given_late_moves_the_others_with_the_same_uid_and_a_higher_sequence(
    team: Team, now: datetime
) -> None:
    """CDC/ACIP's published case: the day-7 dose given on day 10 puts the next on days 17 and 31."""
    course = make_course(team, now)
    for days in (0, 3):
        give(team, course, now, days)
    before = {event.uid.value: said(event) for event in fetch(team.liaison, now + 3 * DAY)}
    give(team, course, now, 10)
    after = {event.uid.value: said(event) for event in fetch(team.liaison, now + 10 * DAY)}
    assert set(before) <= set(after)
    start = local(team, now)
    moved = [row for row in after.values() if row[1] == "CONFIRMED"]
    assert moved == [
        (start + timedelta(days=17), "CONFIRMED", 1),
        (start + timedelta(days=31), "CONFIRMED", 1),
    ]


def test_a_given_dose_is_cancelled_for_thirty_days_and_then_gone(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    fetch(team.liaison, now)
    give(team, course, now)
    first = fetch(team.liaison, now)[0]
    assert said(first)[1:] == ("CANCELLED", 1)
    uid = first.uid.value
    for days, shown in ((29, True), (30, True), (31, False)):
        found = [event for event in fetch(team.liaison, now + days * DAY) if event.uid.value == uid]
        assert bool(found) is shown, days


def test_what_comes_back_after_it_was_gone_goes_on_counting(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    uid = fetch(team.liaison, now)[0].uid.value
    dose = give(team, course, now)
    fetch(team.liaison, now)
    later = now + 40 * DAY
    course_dose_void(actor=team.liaison, course=course, dose=dose, reason="another person's", now=later)
    course_plan(course_id=course.pk, now=later)
    (found,) = [event for event in fetch(team.liaison, later) if event.uid.value == uid]
    assert said(found)[1:] == ("CONFIRMED", 2)


def test_an_ended_course_is_cancelled(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    fetch(team.member, now)
    course_end(
        actor=team.liaison,
        course=course,
        ended_on=local(team, now),
        kind="stopped",
        said_by="Clinician on duty",
        reason="clinician's word",
        now=now,
    )
    assert {event.status.value for event in fetch(team.member, now)} == {"CANCELLED"}


def test_a_role_that_is_lost_takes_its_dates_along(team: Team, now: datetime) -> None:
    make_course(team, now)
    fetch(team.liaison, now)
    SiteRole.objects.filter(user=team.liaison).delete()
    assert {event.status.value for event in fetch(team.liaison, now)} == {"CANCELLED"}


def test_an_animals_last_day_stands_until_somebody_says_how_it_ended(team: Team, now: datetime) -> None:
    one = watched(team, now)
    (event,) = fetch(team.liaison, now)
    assert said(event) == (local(team, now) + timedelta(days=10), "CONFIRMED", 0)
    assert said(fetch(team.liaison, now + 12 * DAY)[0])[1] == "CONFIRMED"
    assert fetch(team.member, now) == []
    outcome_record(actor=team.liaison, observation=one, outcome="escaped", known_on=local(team, now), now=now)
    assert said(fetch(team.liaison, now)[0])[1:] == ("CANCELLED", 1)


def test_a_session_is_an_hour_in_utc_through_a_change_of_clocks(team: Team, now: datetime) -> None:
    """Berlin's clocks go forward on 29 March 2026 at 01:00 UTC (tz database): 9:30 is 8:30 UTC before, 7:30 after."""
    team.site.time_zone = "Europe/Berlin"
    team.site.save()
    session = make_session(team, now, [team.person])
    session.opens_at = time(9, 30)
    for day, hour in ((date(2026, 3, 28), 8), (date(2026, 3, 29), 7)):
        session.held_on = day
        session.save()
        (event,) = fetch(team.member, now)
        assert event.dtstart.value == datetime.combine(day, time(hour, 30), UTC)
        assert event.dtend.value - event.dtstart.value == timedelta(hours=1)
    assert said(event)[2] == 1


def test_a_session_called_off_is_cancelled_and_one_that_was_held_stays_a_month(
    team: Team, now: datetime
) -> None:
    session = make_session(team, now, [team.person])
    fetch(team.member, now)
    held_on = datetime.combine(session.held_on, time(12), UTC)
    assert [said(event)[1] for event in fetch(team.member, held_on + 30 * DAY)] == ["CONFIRMED"]
    assert fetch(team.member, held_on + 31 * DAY) == []
    assert not FeedEntry.objects.exists()
    fetch(team.member, now)
    session_cancel(actor=team.officer, session=session, reason="clinic shut", now=now)
    assert [said(event)[1] for event in fetch(team.member, now)] == ["CANCELLED"]


def test_an_outing_one_is_on_stands_and_a_cancelled_one_is_cancelled(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 60, 53, 30)
    outing, crew = make_outing(team.site, team.officer, now)
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now)
    (event,) = fetch(team.member, now)
    assert said(event) == (outing.date, "CONFIRMED", 0)
    outing_cancel(actor=team.officer, outing=outing, reason="rain", now=now)
    assert said(fetch(team.member, now)[0])[1] == "CANCELLED"


def test_a_moved_outing_keeps_its_uid_and_raises_its_sequence(team: Team, now: datetime) -> None:
    """RFC 5545, 3.8.7.4."""
    give_doses(team.person, team.officer, now, 60, 53, 30)
    outing, crew = make_outing(team.site, team.officer, now)
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now)
    (before,) = fetch(team.member, now)
    outing_move(actor=team.officer, outing=outing, date=outing.date + timedelta(days=1), now=now)
    (after,) = fetch(team.member, now)
    assert said(after) == (outing.date, "CONFIRMED", 1)
    assert after.uid.value == before.uid.value


def test_a_leap_day_is_a_day(team: Team) -> None:
    leap = datetime(2028, 2, 22, 6, tzinfo=UTC)
    make_course(team, leap)
    assert date(2028, 2, 29) in {event.dtstart.value for event in fetch(team.member, leap)}


def test_the_uid_is_the_same_after_the_link_is_renewed_and_another_for_each_account(
    team: Team, now: datetime
) -> None:
    make_course(team, now)
    first = {event.uid.value for event in fetch(team.liaison, now)}
    feed_make(user=team.liaison, now=now)
    assert {event.uid.value for event in fetch(team.liaison, now)} == first
    assert not first & {event.uid.value for event in fetch(team.officer, now)}


def test_the_database_is_asked_the_same_number_of_questions_however_many_dates(
    team: Team, now: datetime, django_assert_max_num_queries: Any
) -> None:
    feed = feed_make(user=team.officer, now=now).feed
    watched(team, now)
    feed_refresh(feed=feed, now=now)
    with django_assert_max_num_queries(20) as few:
        feed_refresh(feed=feed, now=now)
    for _turn in range(4):
        watched(team, now)
    make_course(team, now)
    feed_refresh(feed=feed, now=now)
    with django_assert_max_num_queries(20) as many:
        feed_refresh(feed=feed, now=now)
    assert len(many) == len(few)
