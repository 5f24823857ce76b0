"""What a case waits for beside its doses is chased daily: common practice, no source."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from safety.models import Course, Decision, EndKind, Incident, Notice, PlanRow, Visit
from safety.outbox.states import State
from safety.rules.notices.follow_up import Subject
from safety.selectors.case.matters import Matter, matters_of
from safety.selectors.notices.unanswered import matter_stands
from safety.services.case.closing import incident_close
from safety.services.case.visits import visit_decide, visit_record
from safety.services.course.course_ending import course_end
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import Person, Titre
from tests.factories import Team
from tests.safety.outbox.samples import DAY, make_course
from tests.safety.outbox.test_new_report_notices import BITTEN, LICKED, reported

pytestmark = pytest.mark.django_db


def waiting(kind: str) -> set[tuple[str, date]]:
    rows = Notice.objects.filter(kind=kind, state=State.WAITING)
    return {(row.audience, row.send_on) for row in rows}


def visited(team: Team, incident: Incident, now: datetime, decision: str) -> Visit:
    return visit_record(
        actor=team.liaison,
        incident=incident,
        clinic=team.clinic,
        visited_on=team.site.local_date(now),
        decision=decision,
        now=now,
    )


def test_a_visit_nobody_has_recorded_is_told_daily_to_all_three_from_the_day_after_on(
    team: Team, now: datetime
) -> None:
    reported(team, now, "bite", BITTEN)
    today = team.site.local_date(now)
    notices_reconcile(now=now)
    assert waiting("visit-late") == set()
    for days in (1, 2, 3, 30):
        notices_reconcile(now=now + days * DAY)
        on = today + days * DAY
        assert waiting("visit-late") == {(who, on) for who in ("member", "liaison", "officer")}


def test_what_needs_no_clinic_is_chased_by_nobody(team: Team, now: datetime) -> None:
    reported(team, now, "lick", LICKED)
    notices_reconcile(now=now + 3 * DAY)
    assert not Notice.objects.exists()


def test_a_decision_nobody_has_recorded_is_told_to_the_liaison_and_from_day_two_to_the_officer_too(
    team: Team, now: datetime
) -> None:
    incident, today = reported(team, now, "bite", BITTEN), team.site.local_date(now)
    visit = visited(team, incident, now, Decision.PENDING)
    notices_reconcile(now=now)
    assert waiting("decision-late") == set() == waiting("visit-late")
    notices_reconcile(now=now + DAY)
    assert waiting("decision-late") == {("liaison", today + DAY)}
    for days in (2, 3):
        notices_reconcile(now=now + days * DAY)
        assert waiting("decision-late") == {(who, today + days * DAY) for who in ("liaison", "officer")}
    row = Notice.objects.filter(kind="decision-late", state=State.WAITING).earliest("pk")
    assert still_true(row, now + 3 * DAY) and matter_stands(row)
    visit_decide(actor=team.liaison, visit=visit, decision=Decision.NO_COURSE, now=now + 3 * DAY)
    assert not still_true(row, now + 3 * DAY) and not matter_stands(row)
    notices_reconcile(now=now + 3 * DAY)
    assert waiting("decision-late") == set()


def test_a_course_that_was_ordered_and_not_entered_is_chased_as_a_decision(team: Team, now: datetime) -> None:
    incident = reported(team, now, "bite", BITTEN)
    visited(team, incident, now, Decision.COURSE)
    notices_reconcile(now=now + DAY)
    assert waiting("decision-late") == {("liaison", team.site.local_date(now) + DAY)}


def test_a_course_entered_in_error_is_no_course_and_the_right_one_is_chased(
    team: Team, now: datetime
) -> None:
    course, today = make_course(team, now), team.site.local_date(now)
    end = {"kind": EndKind.ERROR, "reason": "of another case", "ended_on": today}
    course_end(actor=team.liaison, course=course, now=now, **end)
    Notice.objects.all().delete()
    notices_reconcile(now=now + DAY)
    assert waiting("decision-late") == {("liaison", today + DAY)}


def test_who_was_sent_on_to_another_clinic_is_chased_until_seen_there(team: Team, now: datetime) -> None:
    incident = reported(team, now, "bite", BITTEN)
    visited(team, incident, now, Decision.REFERRED_ON)
    notices_reconcile(now=now + DAY)
    assert len(waiting("visit-late")) == 3


def test_a_closed_case_withdraws_what_waits(team: Team, now: datetime) -> None:
    incident = reported(team, now, "bite", BITTEN)
    visited(team, incident, now, Decision.PENDING)
    notices_reconcile(now=now + DAY)
    incident_close(actor=team.officer, incident=incident, reason="learned", now=now + DAY)
    notices_reconcile(now=now + DAY)
    assert waiting("decision-late") == set()


def test_repeating_changes_nothing(team: Team, now: datetime) -> None:
    reported(team, now, "bite", BITTEN)
    notices_reconcile(now=now + DAY)
    before = list(Notice.objects.order_by("pk").values())
    notices_reconcile(now=now + DAY)
    assert list(Notice.objects.order_by("pk").values()) == before


def whole_course(team: Team, now: datetime) -> Course:
    course = make_course(team, now)
    last = team.site.local_date(now)
    course.planned_doses.update(given_on=last)
    Person.objects.filter(pk=team.person.pk).update(immunocompromised=True)
    return Course.objects.get(pk=course.pk)


def test_after_a_course_of_somebody_immunocompromised_a_titre_is_due_a_week_on(
    team: Team, now: datetime
) -> None:
    """MMWR 2010;59(RR-2): one or more serum samples 7 to 14 days after the last dose."""
    incident, today = whole_course(team, now).incident, team.site.local_date(now)
    assert matters_of(incident) == [Matter(Subject.TITRE, today + timedelta(days=7))]
    Titre.objects.create(
        person=team.person,
        taken_on=today + timedelta(days=10),
        iu_per_ml="0.6",
        recorded_by=team.liaison,
        recorded_at=now + 10 * DAY,
        recorded_on=today + timedelta(days=10),
    )
    assert matters_of(Incident.objects.get(pk=incident.pk)) == []


@pytest.mark.parametrize(("days", "asked"), [(6, True), (7, False), (15, False)])
def test_blood_taken_before_the_window_settles_no_titre(
    team: Team, now: datetime, days: int, asked: bool
) -> None:
    """MMWR 2010;59(RR-2): 7 to 14 days after the last dose; the desk asks on, and so do the mails."""
    incident, taken_on = whole_course(team, now).incident, team.site.local_date(now + days * DAY)
    Titre.objects.create(
        person=team.person,
        taken_on=taken_on,
        iu_per_ml="0.6",
        recorded_by=team.liaison,
        recorded_at=now + days * DAY,
        recorded_on=taken_on,
    )
    assert bool(matters_of(Incident.objects.get(pk=incident.pk))) is asked


def test_a_course_that_is_not_through_or_of_anybody_else_asks_for_no_titre(team: Team, now: datetime) -> None:
    course = whole_course(team, now)
    course.planned_doses.filter(number=5).update(given_on=None)
    assert matters_of(Incident.objects.get(pk=course.incident_id)) == []
    course.planned_doses.update(given_on=team.site.local_date(now))
    Person.objects.filter(pk=team.person.pk).update(immunocompromised=False)
    assert matters_of(Incident.objects.get(pk=course.incident_id)) == []


def test_rows_that_break_what_every_plan_must_keep_leave_nobody_untold(team: Team, now: datetime) -> None:
    """Past the service: one row that tells the officer alone, a month late."""
    PlanRow.objects.create(site=team.site, what="dose", offset_days=30, officer=True)
    PlanRow.objects.create(site=team.site, what="sideways", offset_days=1, officer=True)
    make_course(team, now)
    rows = Notice.objects.filter(step=3, state=State.WAITING)
    assert {(row.kind, row.audience) for row in rows} == {
        (kind, who) for kind in ("day-before", "day-of") for who in ("liaison", "member")
    }
