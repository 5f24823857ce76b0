"""Officer and liaison read how the follow-up of their site went, in numbers that add up."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from safety.models import Course
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end
from safety.services.course.plan import course_plan
from tests.factories import Team, make_person
from tests.safety.outbox.samples import DAY, make_course, make_notice

PAGE = "/follow-up/figures/"


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def give(team: Team, course: Course, days_ago: int, now: datetime) -> None:
    given_on = team.site.local_date(now) - days_ago * DAY
    course_dose_record(actor=team.liaison, course=course, given_on=given_on, now=now)
    course_plan(course_id=course.pk, now=now)


def told(page: str) -> str:
    """The page with blanks as a reader sees them: one is one, and none between two cells."""
    return " ".join(page.split()).replace("> <", "><")


def test_before_anything_was_due_the_page_says_so(team: Team, client: Client) -> None:
    client.force_login(team.liaison)
    page = client.get(PAGE).content.decode()
    assert "No dose after an exposure was due in this period." in page
    assert "No notice was due in this period." in page


def test_doses_in_time_late_chased_and_of_ended_courses_are_told_apart(
    team: Team, client: Client, now: datetime
) -> None:
    early = now - 12 * DAY
    course = make_course(team, early)
    give(team, course, 12, now)  # day 0, in time
    give(team, course, 7, now)  # due 9 days ago: 2 days late; the next one was due 3 days ago
    client.force_login(team.officer)
    page = told(client.get(PAGE).content.decode())
    for words, number in (("In time", 1), ("2 days late", 1), ("Overdue, chased", 1), ("Course ended", 0)):
        assert f'{words}</th><td data-label="Number">{number}</td><td data-label="Of all due">3' in page
    course_end(
        actor=team.liaison,
        course=course,
        ended_on=team.site.local_date(now),
        kind="stopped",
        said_by="Dr Test",
        reason="The clinician's word.",
        now=now,
    )
    page = told(client.get(PAGE).content.decode())
    for words, number in (("Overdue, chased", 0), ("Course ended", 1)):
        assert f'{words}</th><td data-label="Number">{number}</td><td data-label="Of all due">3' in page
    assert "1 ended before, with a reason" in page


def test_the_period_holds_its_first_and_its_last_day_and_no_more(
    team: Team, client: Client, now: datetime
) -> None:
    make_course(team, now - 30 * DAY)
    began = team.site.local_date(now - 30 * DAY)
    client.force_login(team.officer)

    def due(first: int, last: int) -> str:
        period = {"first": (began + first * DAY).isoformat(), "last": (began + last * DAY).isoformat()}
        return told(client.get(PAGE, period).content.decode())

    assert "<strong>3</strong> doses due" in due(0, 7)
    assert "<strong>1</strong> dose due" in due(4, 13)
    assert "<strong>1</strong> incident," in due(0, 0)
    assert "<strong>0</strong> incidents" in due(1, 7)


def test_a_period_that_ends_before_it_begins_is_refused_with_the_remedy(team: Team, client: Client) -> None:
    client.force_login(team.officer)
    answer = client.get(PAGE, {"first": "2026-03-02", "last": "2026-03-01"})
    assert answer.status_code == 400
    assert "The period ends before it begins; check both dates." in answer.content.decode()


def test_another_sites_figures_cant_be_asked_for(team: Team, client: Client, now: datetime) -> None:
    make_course(team, now)
    client.force_login(team.stranger)
    assert client.get(PAGE, {"site": team.site.pk}).status_code == 400
    assert "<strong>0</strong> incidents" in told(client.get(PAGE).content.decode())


def test_the_number_of_queries_does_not_depend_on_the_number_of_courses(
    team: Team, client: Client, now: datetime
) -> None:
    client.force_login(team.officer)

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert client.get(PAGE).status_code == 200
        return len(seen)

    make_course(team, now - timedelta(days=2))
    once = queries()
    for number in range(3):
        team.person = make_person(team.site, team.officer, now, number=f"x{number}")
        make_course(team, now - timedelta(days=20 + number))
    assert queries() == once


def test_notices_are_counted_by_kind_and_state_with_those_said_to_be_seen(
    team: Team, client: Client, now: datetime
) -> None:
    today = team.site.local_date(now)
    for state, seen in (("sent", now), ("sent", None), ("withdrawn", None)):
        make_notice(team.site, now, now, kind="day-of", state=state, acknowledged_at=seen, send_on=today)
    make_notice(team.site, now, now, kind="day-before", state="sent", send_on=today)
    client.force_login(team.liaison)
    found = {row.words: row for row in client.get(PAGE).context["notices"]}
    day_of, day_before = found["a dose is due today"], found["a dose is due tomorrow"]
    assert (day_of.written, day_of.sent, day_of.withdrawn, day_of.waiting, day_of.seen) == (3, 2, 1, 0, 1)
    assert (day_before.written, day_before.seen) == (1, None)


@pytest.mark.parametrize("asked", [{"first": "0001-01-01"}, {"last": "9999-12-31"}, {"first": "9999-12-31"}])
def test_a_period_at_the_edge_of_the_calendar_is_answered_in_words(
    team: Team, client: Client, asked: dict[str, str]
) -> None:
    client.force_login(team.officer)
    page = client.get(PAGE, asked)
    assert page.status_code == 400 and "check the year" in page.content.decode()
