"""A site's own plan: kept by the service, followed by what waits, foreseen for a fortnight."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from safety import registry
from safety.errors import Conflict, Invalid
from safety.models import Course, Decision, Notice, PlanRow
from safety.notices.case.matter import MATTERS
from safety.notices.course.dose import DOSES
from safety.outbox.states import State
from safety.rules.notices.follow_up import Audience, Subject
from safety.rules.notices.site_plan import plan_row
from safety.selectors.notices.coming import coming, plan_difference
from safety.selectors.notices.plans import own_rows, plan_of, rows_mark
from safety.services.case.visits import visit_record
from safety.services.notices.notices import notices_reconcile
from safety.services.notices.site_plan import site_plan_set
from staff.models import AuditEntry
from tests.factories import Team, make_person
from tests.safety.outbox.samples import DAY, make_course, make_notice
from tests.safety.outbox.test_new_report_notices import BITTEN, reported

pytestmark = pytest.mark.django_db
ALL = tuple(Audience)
CLINIC = (Audience.LIAISON, Audience.MEMBER)
MINE = [
    plan_row(Subject.DOSE, -2, (Audience.LIAISON,), hour=18),
    plan_row(Subject.DOSE, 0, CLINIC, hour=6),
    plan_row(Subject.DOSE, 1, ALL, repeats_daily=True),
]


def keep(team: Team, now: datetime, rows: list = MINE, seen: str = rows_mark([])) -> None:  # type: ignore[type-arg]
    site_plan_set(
        actor=team.officer,
        site=team.site,
        what=Subject.DOSE,
        rows=rows,
        reason="letter 9",
        seen=seen,
        now=now,
    )


def test_the_rows_are_kept_and_audited_with_the_reason(team: Team, now: datetime) -> None:
    keep(team, now)
    assert own_rows(team.site, Subject.DOSE) == MINE
    entry = AuditEntry.objects.get(action="plan.changed")
    assert entry.detail["reason"] == "letter 9" and len(entry.detail["new"]) == 3 and not entry.detail["old"]
    assert set(MINE) < set(plan_of(team.site)) and not own_rows(team.other_site, Subject.DOSE)


def test_back_to_the_shipped_plan(team: Team, now: datetime) -> None:
    keep(team, now)
    keep(team, now, [], rows_mark(MINE))
    assert not PlanRow.objects.exists() and AuditEntry.objects.filter(action="plan.changed").count() == 2


@pytest.mark.parametrize("gone", range(3))
def test_rows_that_leave_somebody_untold_are_refused(team: Team, now: datetime, gone: int) -> None:
    rows = [row for number, row in enumerate(MINE) if number != gone]
    if gone == 0:
        keep(team, now, rows)
    else:
        with pytest.raises(Invalid):
            keep(team, now, rows)
        assert not PlanRow.objects.exists()


def test_a_plan_changed_meanwhile_or_not_at_all_is_refused(team: Team, now: datetime) -> None:
    keep(team, now)
    for seen in (rows_mark([]), rows_mark(MINE)):
        with pytest.raises(Conflict):
            keep(team, now, MINE, seen)


def test_a_reason_is_asked_for(team: Team, now: datetime) -> None:
    with pytest.raises(Invalid):
        site_plan_set(
            actor=team.officer, site=team.site, what=Subject.DOSE, rows=MINE, reason=" ", seen="", now=now
        )


def test_what_waits_follows_the_new_plan_at_the_next_tick(team: Team, now: datetime) -> None:
    course = make_course(team, now)
    due = team.site.local_date(now) + 7 * DAY
    keep(team, now)
    notices_reconcile(now=now)
    rows = Notice.objects.filter(course=course, step=3, state=State.WAITING)
    assert {(row.kind, row.audience, row.send_on, row.send_hour) for row in rows} == {
        ("days-before", "liaison", due - 2 * DAY, 18),
        ("day-of", "liaison", due, 6),
        ("day-of", "member", due, 6),
    }
    for row in rows:
        assert row.due_at.astimezone(ZoneInfo("Africa/Nairobi")).hour == row.send_hour
    keep(team, now, [], rows_mark(MINE))
    notices_reconcile(now=now)
    kinds = Notice.objects.filter(course=course, step=3, state=State.WAITING).values_list("kind", flat=True)
    assert sorted(kinds) == ["day-before", "day-before", "day-of", "day-of"]


def marks(rows: list[tuple[str, str, str, datetime]]) -> list[tuple[str, str, str, datetime]]:
    return sorted(rows)


@pytest.mark.parametrize("own_plan", [False, True])
def test_what_is_foreseen_is_what_comes_when_the_clock_moves_on_and_nothing_is_recorded(
    team: Team, now: datetime, own_plan: bool
) -> None:
    """A course, a case nobody has seen and one without a decision; ticks at three hours of every day."""
    if own_plan:
        keep(team, now)
    make_course(team, now - 2 * DAY)
    reported(team, now, "bite", BITTEN)
    team.person = make_person(team.site, team.officer, now, number="8")
    pending = reported(team, now, "bite", BITTEN)
    visit_record(
        actor=team.liaison,
        incident=pending,
        clinic=team.clinic,
        visited_on=team.site.local_date(now),
        decision=Decision.PENDING,
        now=now,
    )
    midnight = now.replace(hour=0) - timedelta(hours=3) + timedelta(seconds=1)  # of Nairobi
    Notice.objects.filter(due_at__lte=midnight).update(state=State.SENT, settled_at=now - 2 * DAY)
    notices_reconcile(now=now)
    foreseen = coming(team.site, now)
    kinds = [*registry.names_of(DOSES), *registry.names_of(MATTERS)]
    came: list[tuple[str, str, str, datetime]] = []
    for day in range(14):
        for hour in (0, 12, 23):
            moment = midnight + day * DAY + timedelta(hours=hour, minutes=59)
            if moment < now:
                continue
            notices_reconcile(now=moment)
            due = Notice.objects.filter(state=State.WAITING, due_at__lte=moment)
            came += [(row.reference, row.kind, row.email, row.due_at) for row in due if row.kind in kinds]
            due.update(state=State.SENT, settled_at=moment)
    expected = [(row.reference, row.kind, row.email, row.at) for row in foreseen if row.kind in kinds]
    assert len(came) > 40 and marks(came) == marks(expected)
    assert {row.certain for row in foreseen} == {True, False}


def test_what_was_sent_already_is_not_foreseen_again(team: Team, now: datetime) -> None:
    course: Course = make_course(team, now)
    assert any(row.kind == "day-of" and row.at.date() == now.date() for row in coming(team.site, now))
    Notice.objects.filter(course=course, due_at__lte=now).update(state=State.SENT)
    assert not any(row.at.date() == now.date() for row in coming(team.site, now))


def test_other_rows_that_wait_stand_there_too_and_those_of_another_site_do_not(
    team: Team, now: datetime
) -> None:
    make_notice(team.site, now + DAY, now, kind="dose-soon")
    make_notice(team.other_site, now + DAY, now, kind="dose-soon")
    make_notice(team.site, now + 14 * DAY, now, kind="dose-soon")
    assert [row.kind for row in coming(team.site, now)] == ["dose-soon"]


def test_a_change_shows_what_comes_goes_and_moves(team: Team, now: datetime) -> None:
    make_course(team, now)
    others = [row for row in plan_of(team.site) if row.what != Subject.DOSE]
    change = plan_difference(team.site, [*others, *MINE], now)
    assert change.more and change.fewer
    assert plan_difference(team.site, plan_of(team.site), now).more == []
