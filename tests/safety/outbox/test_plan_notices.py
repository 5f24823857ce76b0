"""The notices of a course: which exist, when and for whom; added, withdrawn and revived without ever doubling."""

from __future__ import annotations

import threading
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from safety.models import Course, Notice, NoticeEvent
from safety.outbox.states import State
from safety.services.course.course_doses import course_dose_record
from safety.services.course.dose_voids import course_dose_void
from safety.services.course.plan import course_plan
from safety.services.notices.notices import notices_reconcile
from staff.models import Site, SiteRole
from tests.factories import Team, make_person
from tests.safety.outbox.samples import DAY, make_course

pytestmark = pytest.mark.django_db


def waiting(course: Course, step: int) -> set[tuple[str, str, date]]:
    rows = Notice.objects.filter(course=course, step=step, state=State.WAITING)
    return {(row.kind, row.audience, row.send_on) for row in rows}


def snapshot(course: Course) -> list[tuple[object, ...]]:
    return list(
        Notice.objects.filter(course=course)
        .order_by("pk")
        .values_list("pk", "key", "state", "message_id", "due_at")
    )


def reconcile(course: Course, now: datetime) -> None:
    notices_reconcile(now=now)


def test_a_planned_dose_is_announced_the_day_before_and_on_the_day_to_liaison_and_member(
    team: Team, now: datetime
) -> None:
    course = make_course(team, now)
    due = team.site.local_date(now) + 7 * DAY
    assert waiting(course, 3) == {
        ("day-before", "liaison", due - DAY),
        ("day-before", "member", due - DAY),
        ("day-of", "liaison", due),
        ("day-of", "member", due),
    }


def test_a_dose_nobody_recorded_is_followed_up_the_day_after_and_then_daily(
    team: Team, now: datetime
) -> None:
    course, due = make_course(team, now), team.site.local_date(now)
    everybody = ("liaison", "member", "officer")
    reconcile(course, now + DAY)
    assert waiting(course, 1) == {("day-after", who, due + DAY) for who in everybody}
    for days in (2, 3, 4):
        reconcile(course, now + days * DAY)
        assert waiting(course, 1) == {("overdue", who, due + days * DAY) for who in everybody}


def test_who_is_officer_and_liaison_gets_one_mail_a_day(team: Team, now: datetime) -> None:
    SiteRole.objects.create(user=team.officer, site=team.site, role=SiteRole.Role.LIAISON)
    course = make_course(team, now)
    for days in (1, 2, 3):
        reconcile(course, now + days * DAY)
        rows = Notice.objects.filter(course=course, step=1, state=State.WAITING, email="officer@example.org")
        assert rows.count() == 1


def test_every_notice_is_due_at_seven_by_the_clocks_of_the_site(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    for row in Notice.objects.filter(course=course):
        local = row.due_at.astimezone(ZoneInfo("Africa/Nairobi"))
        assert (local.date(), local.hour, local.minute) == (row.send_on, 7, 0)


def test_seven_stays_seven_through_a_change_of_the_clocks(team: Team) -> None:
    """Lisbon went from UTC+0 to UTC+1 on 29 March 2026 (IANA time zone database; EU directive 2000/84/EC)."""
    Site.objects.filter(pk=team.site.pk).update(time_zone="Europe/Lisbon")
    team.site.refresh_from_db()
    team.person.refresh_from_db()
    course = make_course(team, datetime(2026, 3, 27, 9, tzinfo=UTC))
    instants = {
        row.send_on: row.due_at
        for row in Notice.objects.filter(course=course, audience="liaison", step__lte=3)
    }
    assert instants[date(2026, 3, 27)] == datetime(2026, 3, 27, 7, tzinfo=UTC)
    assert instants[date(2026, 3, 29)] == datetime(2026, 3, 29, 6, tzinfo=UTC)
    assert instants[date(2026, 3, 30)] == datetime(2026, 3, 30, 6, tzinfo=UTC)


def test_another_hour_or_zone_of_the_site_moves_what_waits(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    before = snapshot(course)
    team.site.rules.notice_hour = 9
    team.site.rules.save()
    Site.objects.filter(pk=team.site.pk).update(time_zone="Asia/Kolkata")
    reconcile(course, now)
    for row in Notice.objects.filter(course=course):
        local = row.due_at.astimezone(ZoneInfo("Asia/Kolkata"))
        assert (row.send_hour, row.zone, local.hour, local.date()) == (9, "Asia/Kolkata", 9, row.send_on)
        assert row.next_try_at == row.due_at
    assert [row[:4] for row in snapshot(course)] == [row[:4] for row in before]


def test_reconciling_again_changes_nothing(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    before, events = snapshot(course), NoticeEvent.objects.count()
    reconcile(course, now)
    course_plan(course_id=course.pk, now=now)
    assert snapshot(course) == before and NoticeEvent.objects.count() == events


def test_a_recorded_dose_withdraws_its_notices_and_a_voided_one_revives_them_under_the_same_id(
    team: Team, now: datetime
) -> None:
    course = make_course(team, now)
    ids = set(Notice.objects.filter(course=course, step=1).values_list("pk", "message_id"))
    dose = course_dose_record(
        actor=team.liaison, course=course, given_on=team.site.local_date(now), now=now, route="IM"
    )
    course_plan(course_id=course.pk, now=now)
    assert set(Notice.objects.filter(course=course, step=1).values_list("state", flat=True)) == {"withdrawn"}
    course_dose_void(actor=team.liaison, course=course, dose=dose, reason="wrong person", now=now)
    course_plan(course_id=course.pk, now=now)
    revived = Notice.objects.filter(course=course, step=1, state=State.WAITING)
    assert set(revived.values_list("pk", "message_id")) == ids
    assert {row.events.last().why for row in revived} == {"needed again"}
    assert all(row.settled_at is None for row in revived)


def test_an_ended_course_wants_nothing_more(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    Course.objects.filter(pk=course.pk).update(ended_on=now.date(), end_reason="clinician's word")
    course_plan(course_id=course.pk, now=now)
    assert not Notice.objects.filter(course=course, state=State.WAITING).exists()


def test_a_site_without_a_liaison_has_its_officers_told(team: Team, now: datetime) -> None:
    SiteRole.objects.filter(role=SiteRole.Role.LIAISON).delete()
    course = make_course(team, now)
    rows = Notice.objects.filter(course=course, audience="liaison")
    assert rows and {row.email for row in rows} == {"officer@example.org"}


def test_an_account_that_is_closed_is_not_written_to(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    team.liaison.is_active = False
    team.liaison.save()
    reconcile(course, now)
    open_rows = Notice.objects.filter(course=course, state=State.WAITING, audience="liaison")
    assert {row.email for row in open_rows} == {"officer@example.org"}


def test_long_addresses_that_differ_only_at_their_end_get_notices_of_their_own(
    team: Team, now: datetime
) -> None:
    long = "a" * 60 + "@" + ".".join(["b" * 60] * 3)
    team.liaison.email = f"{long}.org"
    team.liaison.save()
    course = make_course(team, now)
    team.liaison.email = f"{long}.net"
    team.liaison.save()
    reconcile(course, now)
    open_rows = Notice.objects.filter(course=course, state=State.WAITING, audience="liaison")
    assert {row.email for row in open_rows} == {f"{long}.net"}


def test_two_reconciling_at_once_make_each_notice_once(real_transactions: None, now: datetime) -> None:
    from tests.factories import make_team  # noqa: PLC0415  (the database is only there once the fixture is)

    team = make_team(now)
    course = make_course(team, now)
    for days in (0, 1, 2):
        if days == 0:
            Notice.objects.all().delete()
        barrier, failures = threading.Barrier(3), list[BaseException]()

        def race(moment: datetime, barrier: threading.Barrier, failures: list[BaseException]) -> None:
            try:
                barrier.wait(timeout=20)
                course_plan(course_id=course.pk, now=moment)
                notices_reconcile(now=moment)
            except BaseException as error:  # noqa: BLE001  (handed to the test's own thread)
                failures.append(error)
            finally:
                connection.close()

        threads = [
            threading.Thread(target=race, args=(now + timedelta(days=days), barrier, failures))
            for _ in range(3)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert not failures
    before = snapshot(course)
    reconcile(course, now + 2 * DAY)
    assert snapshot(course) == before
    keys = Notice.objects.values_list("key", flat=True)
    assert len(keys) == len(set(keys)) > 0


def test_each_further_course_costs_the_sweep_a_handful_of_queries(team: Team, now: datetime) -> None:
    def queries() -> int:
        reconcile(course, now)
        with CaptureQueriesContext(connection) as asked:
            reconcile(course, now)
        return sum(query["sql"].startswith("SELECT") for query in asked.captured_queries)

    course = make_course(team, now)
    one = queries()
    for number in range(5):
        team.person = make_person(team.site, team.officer, now, number=f"q{number}")
        make_course(team, now)
    assert queries() - one <= 5 * 3
