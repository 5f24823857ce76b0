"""Notices about the dates of people's own records: who is told, when, and that nothing doubles.

A week ahead, on the day, and late once a week: common practice, no source.
"""

from __future__ import annotations

import re
from datetime import date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from safety import registry
from safety.emails.build import build_mail
from safety.models import Notice, NoticeEvent
from safety.notices.record.dates import RECORDS
from safety.outbox.states import State
from safety.rules.notices.follow_up import Audience, record_notices, week_turn
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from staff.models import Person, PersonDue, SiteRules
from staff.services.record.briefings import briefing_record
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record, dose_void
from staff.services.site.site_rules import site_rules_change
from tests.factories import Team, give_doses, make_person
from tests.safety.outbox.samples import DAY, make_course
from tests.safety.outbox.test_mail_content import HEALTH

RECORD_KINDS = registry.names_of(RECORDS)

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 3, 2)


def rows(kind: str = "") -> list[tuple[str, str, date, str]]:
    waiting = Notice.objects.filter(kind__in=RECORD_KINDS, state=State.WAITING).order_by("kind", "email")
    return [(n.kind, n.audience, n.send_on, n.email) for n in waiting if kind in n.kind]


@pytest.fixture
def begun(team: Team, now: datetime) -> Person:
    """Dose 1 on 24 February: dose 2 is due on 3 March, tomorrow; the regimen's gap is 7 days."""
    give_doses(team.person, team.officer, now, 6)
    return team.person


def test_the_rule_names_a_week_ahead_and_the_day_itself_and_never_both_at_once() -> None:
    def told(due_on: date, today: date) -> set[tuple[str, date]]:
        return {
            (stage, on) for stage, on, who in record_notices(due_on=due_on, today=today) if who == "member"
        }

    due = MONDAY + 7 * DAY
    assert told(due, MONDAY - 2 * DAY) == set()
    assert told(due, MONDAY - DAY) == {("soon", MONDAY), ("today", due)}
    assert told(due, due - DAY) == {("soon", MONDAY), ("today", due)}
    assert told(due, due) == {("today", due)}
    assert told(due, due + DAY) == set()
    assert {who for _s, _o, who in record_notices(due_on=due, today=due)} == {
        Audience.MEMBER,
        Audience.LIAISON,
    }


def test_what_is_late_is_told_on_mondays_or_the_first_late_day() -> None:
    assert week_turn(first_late=MONDAY - 30 * DAY, today=MONDAY + 4 * DAY) == MONDAY
    assert week_turn(first_late=MONDAY - DAY, today=MONDAY) == MONDAY
    assert week_turn(first_late=MONDAY + 2 * DAY, today=MONDAY + 6 * DAY) == MONDAY + 3 * DAY
    with pytest.raises(ValueError, match="late"):
        week_turn(first_late=MONDAY, today=MONDAY)


def test_the_next_dose_is_announced_to_its_member_and_the_liaison(
    team: Team, begun: Person, now: datetime
) -> None:
    notices_reconcile(now=now)
    due = team.site.local_date(now) + DAY
    assert rows() == [
        ("dates-soon", "liaison", due - 7 * DAY, "liaison@example.org"),
        ("dates-today", "liaison", due, "liaison@example.org"),
        ("dose-soon", "member", due - 7 * DAY, "p7@example.org"),
        ("dose-today", "member", due, "p7@example.org"),
    ]


def test_again_and_again_changes_nothing(begun: Person, now: datetime) -> None:
    notices_reconcile(now=now)
    before = list(Notice.objects.order_by("pk").values())
    notices_reconcile(now=now)
    assert list(Notice.objects.order_by("pk").values()) == before
    assert not NoticeEvent.objects.exists()


def test_a_dose_given_withdraws_them_and_a_voided_one_revives_them(
    team: Team, begun: Person, now: datetime
) -> None:
    later = now + DAY
    notices_reconcile(now=now)
    dose = dose_record(
        actor=team.officer, person=begun, given_on=team.site.local_date(later), now=later, route="IM"
    )
    notices_reconcile(now=later)
    assert not rows()
    dose_void(actor=team.officer, dose=dose, reason="slip", now=later)
    notices_reconcile(now=later)
    assert [kind for kind, *_ in rows()] == ["dates-today", "dose-today"]


def test_the_moment_of_sending_asks_the_record_again(team: Team, begun: Person, now: datetime) -> None:
    notices_reconcile(now=now)
    own = Notice.objects.get(kind="dose-today")
    team_row = Notice.objects.get(kind="dates-today")
    assert still_true(own, now) and still_true(team_row, now)
    PersonDue.objects.filter(person=begun).delete()
    assert not still_true(own, now) and not still_true(team_row, now)


def test_the_liaison_gets_one_mail_for_all_who_are_due_on_a_date(
    team: Team, begun: Person, now: datetime
) -> None:
    for number in range(4):
        give_doses(make_person(team.site, team.officer, now, number=f"n{number}"), team.officer, now, 6)
    notices_reconcile(now=now)
    assert len(rows("dates-today")) == 1 and len(rows("dose-today")) == 5


def test_a_site_without_a_liaison_has_its_officers_told(team: Team, now: datetime) -> None:
    person = make_person(team.other_site, team.stranger, now, number="x")
    give_doses(person, team.stranger, now, 6)
    notices_reconcile(now=now)
    assert {row[3] for row in rows("dates-")} == {"stranger@example.org"}


def test_the_officer_is_told_once_a_week_while_anything_is_late(
    team: Team, begun: Person, now: datetime
) -> None:
    sent = []
    for day in range(1, 16):
        at = now + day * DAY
        notices_reconcile(now=at)
        for row in Notice.objects.filter(kind="dates-late", state=State.WAITING):
            assert still_true(row, at)
            Notice.objects.filter(pk=row.pk).update(state=State.SENT)
            sent.append((row.email, row.send_on))
    assert sent == [("officer@example.org", MONDAY + days * DAY) for days in (2, 7, 14)]


def test_nobody_is_reminded_of_a_series_nobody_began(team: Team, now: datetime) -> None:
    notices_reconcile(now=now)
    assert not rows()


def test_while_a_course_after_a_bite_runs_the_dose_before_field_work_waits(
    team: Team, begun: Person, now: datetime
) -> None:
    make_course(team, now)
    notices_reconcile(now=now)
    assert not rows()


def test_who_left_the_team_is_not_written_to(begun: Person, now: datetime) -> None:
    Person.objects.filter(pk=begun.pk).update(active_until=MONDAY)
    notices_reconcile(now=now)
    assert not rows()


def test_a_recheck_and_a_briefing_that_run_out_are_announced(team: Team, now: datetime) -> None:
    person = team.person
    today = team.site.local_date(now)
    give_doses(person, team.officer, now, 60, 53, 39)
    briefing_record(actor=team.officer, person=person, held_on=today - 26 * DAY, now=now)
    site_rules_change(
        actor=team.officer,
        rules=SiteRules.objects.get(site=team.site),
        changes={"recheck_months": 1, "briefing_months": 1, "lapse_blocks": False},
        reason="letter",
        now=now,
    )
    recompute_catch_up(now=now)
    notices_reconcile(now=now)
    dues = {due.kind: due.due_on for due in person.dues.all()}
    # 22 January and 4 February, a calendar month later.
    assert dues == {"recheck": date(2026, 2, 22), "briefing": date(2026, 3, 4)}
    assert {kind for kind, *_ in rows()} == {
        "briefing-soon",
        "briefing-today",
        "dates-soon",
        "dates-today",
        "dates-late",
    }


def test_another_hour_of_the_site_moves_what_waits(team: Team, begun: Person, now: datetime) -> None:
    notices_reconcile(now=now)
    SiteRules.objects.filter(site=team.site).update(notice_hour=9)
    notices_reconcile(now=now)
    waiting = Notice.objects.filter(kind__in=RECORD_KINDS)
    assert {row.due_at.astimezone(team.site.zone).hour for row in waiting} == {9}


def test_no_mail_says_what_it_is_about(team: Team, begun: Person, now: datetime) -> None:
    for day in (0, 1, 3):
        notices_reconcile(now=now + day * DAY)
    kinds = {notice.kind for notice in Notice.objects.all()}
    assert kinds == {"dose-soon", "dose-today", "dates-soon", "dates-today", "dates-late"}
    for notice in Notice.objects.all():
        mail = build_mail(notice, MONDAY)
        parts = [str(part.get_content()) for part in mail.walk() if not part.is_multipart()]
        words = set(re.findall(r"[a-z]+", " ".join([mail["Subject"], *parts]).casefold()))
        assert not words & {*HEALTH, "briefing", "recheck", "booster", "series"}
        assert begun.name.casefold() not in " ".join(parts).casefold()


def test_every_kind_has_its_words() -> None:
    assert len(RECORD_KINDS) == 11


def test_queries_do_not_grow_with_the_people(team: Team, now: datetime) -> None:
    def count() -> int:
        origin_reconcile(origin=RECORDS, now=now)
        with CaptureQueriesContext(connection) as seen:
            origin_reconcile(origin=RECORDS, now=now)
        return len(seen)

    give_doses(make_person(team.site, team.officer, now, number="q0"), team.officer, now, 6)
    few = count()
    for number in range(1, 12):
        give_doses(make_person(team.site, team.officer, now, number=f"q{number}"), team.officer, now, 6)
    assert count() == few
