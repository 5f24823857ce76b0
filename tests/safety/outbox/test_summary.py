"""The daily summary: one mail a morning and officer, of what is open when it leaves."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from safety.emails.build import build_mail
from safety.models import Course, Notice
from safety.notices.site.summary import MORNINGS
from safety.outbox.states import State
from safety.selectors.notices.summary import Summary, summaries, summary_of
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from safety.services.notices.absences import absence_add
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from staff.models import SiteRole
from tests.factories import Team, make_person, make_user
from tests.safety.outbox.samples import DAY, make_course, make_notice

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def morning(now: datetime) -> datetime:
    """Seven at the site on the next day: the visit of the day before isn't recorded."""
    return now + DAY - 2 * HOUR


def written() -> list[Notice]:
    return list(Notice.objects.filter(kind="summary").order_by("pk"))


def test_each_officer_gets_one_a_morning_when_something_is_open(
    team: Team, now: datetime, morning: datetime
) -> None:
    make_user("chief", team.site, SiteRole.Role.OFFICER)
    make_course(team, now)
    for minutes in (-60, 0, 30, 60):
        origin_reconcile(origin=MORNINGS, now=morning + timedelta(minutes=minutes))
    assert sorted(row.email for row in written()) == ["chief@example.org", "officer@example.org"]
    assert {row.due_at for row in written()} == {morning}
    origin_reconcile(origin=MORNINGS, now=morning + DAY)
    assert len(written()) == 4


@pytest.mark.parametrize(("minutes", "wanted"), [(-61, 0), (-60, 1), (60, 1), (61, 0)])
def test_it_is_written_around_the_sites_hour_and_never_in_the_afternoon(
    team: Team, now: datetime, morning: datetime, minutes: int, wanted: int
) -> None:
    make_course(team, now)
    origin_reconcile(origin=MORNINGS, now=morning + timedelta(minutes=minutes))
    assert len(written()) == wanted


def test_nothing_is_written_where_nothing_is_open(team: Team, morning: datetime) -> None:
    origin_reconcile(origin=MORNINGS, now=morning)
    assert not written()


@pytest.mark.parametrize(("zone", "late"), [("", 0), ("Pacific/Kiritimati", 1), ("Pacific/Pago_Pago", 0)])
def test_a_dose_is_late_by_the_calendar_where_its_course_goes_on(
    team: Team, now: datetime, zone: str, late: int
) -> None:
    """At two in the afternoon of day 0 in Nairobi day 1 has begun in Kiritimati; in Pago Pago day 0 has just come."""
    course = make_course(team, now)
    Course.objects.filter(pk=course.pk).update(time_zone=zone)
    team.site.rules.notice_hour = 14
    assert summary_of(team.site, team.site.local_date(now)).late == late


def test_it_counts_what_is_late_and_what_waits_and_names_nothing(
    team: Team, now: datetime, morning: datetime
) -> None:
    make_course(team, now)
    make_notice(team.site, now, now, state=State.FAILED)
    # Day 0 is late, day 3 waits; days 7, 14 and 28 are further ahead than a week from day 1, or on it.
    assert summary_of(team.site, team.site.local_date(morning)) == Summary(2, 1, 1, 0)
    origin_reconcile(origin=MORNINGS, now=morning)
    (row,) = written()
    text = build_mail(row, team.site.local_date(morning)).get_body(("plain",)).get_content()  # type: ignore[union-attr]
    for line in ("Waiting: 2", "Late: 1", "Refused mails: 1", "Unanswered mails: 0"):
        assert line in text


def test_the_numbers_are_those_of_the_moment_it_leaves(team: Team, now: datetime, morning: datetime) -> None:
    course = make_course(team, now)
    origin_reconcile(origin=MORNINGS, now=morning)
    (row,) = written()
    today = team.site.local_date(now)
    course_dose_record(actor=team.liaison, course=course, given_on=today, place="there", now=morning)
    course_plan(course_id=course.pk, now=morning)
    text = build_mail(row, team.site.local_date(morning)).as_string()
    assert "Late: 0" in text and still_true(row, morning)


def test_yesterdays_that_never_left_is_withdrawn(team: Team, now: datetime, morning: datetime) -> None:
    make_course(team, now)
    origin_reconcile(origin=MORNINGS, now=morning)
    (row,) = written()
    assert still_true(row, morning + 10 * HOUR)
    assert not still_true(row, morning + DAY - 7 * HOUR)
    origin_reconcile(origin=MORNINGS, now=morning + DAY - 7 * HOUR)
    row.refresh_from_db()
    assert row.state == State.WITHDRAWN


def test_it_goes_to_the_deputy_of_an_officer_who_is_away(
    team: Team, now: datetime, morning: datetime
) -> None:
    make_course(team, now)
    notices_reconcile(now=morning)
    day = team.site.local_date(morning)
    absence_add(
        actor=team.officer, user=team.officer, first_day=day, last_day=day, deputy=team.liaison, now=morning
    )
    notices_reconcile(now=morning)
    assert {row.email: row.state for row in written()} == {
        "officer@example.org": State.WITHDRAWN,
        "liaison@example.org": State.WAITING,
    }


def test_it_costs_the_same_number_of_queries_however_much_is_open(
    team: Team, now: datetime, morning: datetime, django_assert_num_queries: Any
) -> None:
    days = {team.site: team.site.local_date(morning), team.other_site: team.other_site.local_date(morning)}
    make_course(team, now)
    with django_assert_num_queries(5):
        summaries(days)
    for number in range(4):
        person = make_person(team.site, team.officer, now, number=f"1{number}")
        team.person = person
        make_course(team, now)
        make_notice(team.site, now, now, state=State.FAILED)
    with django_assert_num_queries(5):
        summaries(days)
