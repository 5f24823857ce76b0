"""A notice nobody has said to have seen is told to the next contact; common practice, no source for the hours."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from safety.models import Course, Notice
from safety.notices.mail.unanswered import SILENCES
from safety.outbox.claims import claim_next
from safety.outbox.states import State
from safety.selectors.notices.unanswered import unanswered_now
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from safety.services.notices.acknowledging import notice_acknowledge
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from safety.services.notices.undelivered import notice_fail
from staff.models import SiteRole, SiteRules
from tests.factories import Team, make_user
from tests.safety.outbox.samples import DAY, make_course, make_notice

pytestmark = pytest.mark.django_db
HOURS = timedelta(hours=4)


@pytest.fixture
def course(team: Team, now: datetime) -> Course:
    """A course whose first dose is due today; both its notices of today were sent now."""
    made = make_course(team, now)
    send(now)
    return made


def send(now: datetime) -> None:
    """As if every due mail had left at `now`."""
    due = Notice.objects.filter(state=State.WAITING, due_at__lte=now)
    due.update(state=State.SENT, settled_at=now)


def passed(**which: object) -> set[tuple[str, str]]:
    rows = Notice.objects.filter(kind="unanswered", **which)
    return {(row.email, row.audience) for row in rows}


def seen(email: str, now: datetime) -> None:
    notice = Notice.objects.filter(email=email, acknowledged_at=None, state=State.SENT).latest("pk")
    assert notice_acknowledge(notice=notice, now=now)


def test_after_the_sites_hours_and_not_a_second_before(team: Team, course: Course, now: datetime) -> None:
    notices_reconcile(now=now + HOURS - timedelta(seconds=1))
    assert passed() == set()
    notices_reconcile(now=now + HOURS)
    assert passed() == {("liaison@example.org", "liaison"), ("officer@example.org", "officer")}


def test_the_hours_are_the_sites(team: Team, course: Course, now: datetime) -> None:
    SiteRules.objects.filter(site=team.site).update(acknowledge_hours=24)
    origin_reconcile(origin=SILENCES, now=now + 23 * HOURS / 4)
    assert passed() == set()
    origin_reconcile(origin=SILENCES, now=now + 24 * HOURS / 4)
    assert len(passed()) == 2


def test_each_is_passed_on_once_however_often_the_tick_comes(
    team: Team, course: Course, now: datetime
) -> None:
    for minutes in range(0, 200, 10):
        origin_reconcile(origin=SILENCES, now=now + HOURS + timedelta(minutes=minutes))
    assert Notice.objects.filter(kind="unanswered").count() == 2


def test_a_word_of_the_member_stops_it_for_the_member_alone(
    team: Team, course: Course, now: datetime
) -> None:
    seen("p7@example.org", now)
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    assert passed() == {("officer@example.org", "officer")}


def test_of_two_liaisons_one_word_is_enough(team: Team, now: datetime) -> None:
    make_user("second", team.site, SiteRole.Role.LIAISON)
    make_course(team, now)
    send(now)
    seen("second@example.org", now)
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    # The member's silence needs nobody more either: a liaison has the same dose in hand since today.
    assert passed() == set()


def test_without_any_word_both_liaisons_are_told_of_the_members_silence(team: Team, now: datetime) -> None:
    make_user("second", team.site, SiteRole.Role.LIAISON)
    make_course(team, now)
    send(now)
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    assert passed(audience="liaison") == {
        ("liaison@example.org", "liaison"),
        ("second@example.org", "liaison"),
    }


def test_a_dose_on_record_needs_nobody(team: Team, course: Course, now: datetime) -> None:
    course_dose_record(
        actor=team.liaison, course=course, given_on=team.site.local_date(now), now=now, route="IM"
    )
    course_plan(course_id=course.pk, now=now)
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    assert passed() == set() and unanswered_now(team.site, now + HOURS) == []


def test_what_is_settled_before_the_mail_leaves_withdraws_it(
    team: Team, course: Course, now: datetime
) -> None:
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    to_liaison = Notice.objects.get(kind="unanswered", audience="liaison")
    assert still_true(to_liaison, now + HOURS)
    seen("p7@example.org", now + HOURS)
    assert not still_true(to_liaison, now + HOURS)


def test_the_planner_leaves_what_was_passed_on_alone(team: Team, course: Course, now: datetime) -> None:
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    notices_reconcile(now=now + HOURS)
    assert set(Notice.objects.filter(kind="unanswered").values_list("state", flat=True)) == {"waiting"}


def test_the_chain_goes_by_the_officers_to_the_further_contact_and_ends_on_the_status_page(
    team: Team, course: Course, now: datetime
) -> None:
    SiteRules.objects.filter(site=team.site).update(further_contact_email="home@example.org")
    make_user("deputy", team.site, SiteRole.Role.OFFICER)
    moment = now
    for _turn in range(4):
        moment += HOURS
        origin_reconcile(origin=SILENCES, now=moment)
        send(moment)
    assert passed(audience="officer") == {
        ("officer@example.org", "officer"),
        ("deputy@example.org", "officer"),
    }
    assert passed(audience="further") == {("home@example.org", "further")}
    assert {each.level for each in unanswered_now(team.site, moment + HOURS)} >= {"officer", "further"}
    assert unanswered_now(team.other_site, moment + HOURS) == []


def test_night_hours_count(team: Team, course: Course, now: datetime) -> None:
    evening = now + timedelta(hours=14)  # 23:00 in Nairobi
    Notice.objects.filter(state=State.SENT).update(settled_at=evening)
    origin_reconcile(origin=SILENCES, now=evening + HOURS)
    assert len(passed()) == 2


def test_a_site_without_a_liaison_goes_on_to_who_is_left(team: Team, now: datetime) -> None:
    SiteRole.objects.filter(user=team.liaison).delete()
    SiteRules.objects.filter(site=team.site).update(further_contact_email="home@example.org")
    make_course(team, now)
    send(now)
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    assert passed() == {("officer@example.org", "liaison"), ("home@example.org", "further")}


def test_one_that_cannot_be_passed_on_stops_nobody(
    team: Team, course: Course, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "safety.notices.mail.unanswered.next_contacts",
        lambda each, _now: 1 / 0 if each.level == "member" else None,
    )
    origin_reconcile(origin=SILENCES, now=now + HOURS)
    assert passed() == set()


def test_a_members_refused_mail_is_told_to_liaisons_and_officers(team: Team, now: datetime) -> None:
    notice = make_notice(team.site, now, now, kind="day-of", audience="member")
    claimed = claim_next(now)
    assert claimed == notice and notice_fail(notice=claimed, why="550", now=now)
    rows = Notice.objects.filter(kind="undelivered")
    assert {row.email for row in rows} == {"liaison@example.org", "officer@example.org"}


def test_the_only_officers_refused_mail_goes_to_the_further_contact_and_whoever_is_left(
    team: Team, now: datetime
) -> None:
    SiteRules.objects.filter(site=team.site).update(further_contact_email="home@example.org")
    make_notice(team.site, now, now, kind="overdue", audience="officer", email="officer@example.org")
    claimed = claim_next(now)
    assert claimed and notice_fail(notice=claimed, why="550", now=now)
    told = Notice.objects.filter(kind="undelivered").values_list("email", flat=True)
    assert sorted(told) == ["home@example.org", "liaison@example.org"]


def test_tomorrows_reminder_asks_anew(team: Team, course: Course, now: datetime) -> None:
    seen("p7@example.org", now)
    seen("liaison@example.org", now)
    notices_reconcile(now=now + DAY)
    send(now + DAY)
    origin_reconcile(origin=SILENCES, now=now + DAY + HOURS)
    assert ("liaison@example.org", "liaison") in passed()
