"""The plan of a course through every fact, and the history of what moved and why."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from safety.errors import Conflict, Invalid
from safety.models import PlanChange, PlannedDose
from safety.pages.course.course_history import history_of
from safety.selectors.case.cases import courses_behind, doses_of
from safety.services.course.course_doses import course_dose_record
from safety.services.course.dose_voids import course_dose_void
from safety.services.course.plan import course_plan, plans_catch_up
from staff.models import SiteRules
from tests.factories import Team
from tests.safety.clinic_scenes import begun, due, give

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
ZERO = date(2026, 3, 2)


def planned_days(rows: list[tuple[int, date, date | None]], zero: date = ZERO) -> list[int]:
    return [(due_on - zero).days for _number, due_on, _given in rows]


def test_the_published_case_of_a_late_dose_moves_the_rest_and_says_why(team: Team, now: datetime) -> None:
    # ACIP 2010 with its published answers: five doses, day 7 given on day 10: next on days 17 and 31.
    course = begun(team, now)
    for day in (0, 3, 10):
        give(team, course, ZERO + day * DAY, now + day * DAY)
    assert planned_days(due(course)) == [0, 3, 7, 17, 31]
    moved = PlanChange.objects.filter(course=course, number__gte=4, was_due__isnull=False)
    assert [(row.number, row.was_due, row.now_due, row.why) for row in moved] == [
        (4, ZERO + 14 * DAY, ZERO + 17 * DAY, [["dose", "2026-03-12"]]),
        (5, ZERO + 28 * DAY, ZERO + 31 * DAY, [["dose", "2026-03-12"]]),
    ]
    newest = history_of(course, follows=True)[0]
    assert newest.why == "The dose of 12 Mar 2026 was recorded."
    assert newest.moves == [
        "Dose 3 was given on 12 Mar 2026.",
        "Dose 4 moved from 16 Mar 2026 to 19 Mar 2026.",
        "Dose 5 moved from 30 Mar 2026 to 2 Apr 2026.",
    ]


@pytest.mark.parametrize(
    ("rule", "days"), [("keep-gaps", [0, 3, 7, 17, 31]), ("keep-calendar", [0, 3, 7, 14, 28])]
)
def test_the_sites_late_rule_decides_about_the_rest(
    team: Team, now: datetime, rule: str, days: list[int]
) -> None:
    SiteRules.objects.filter(site=team.site).update(late_rule=rule)
    team.site.refresh_from_db()
    team.person.refresh_from_db()
    course = begun(team, now)
    for day in (0, 3, 10):
        give(team, course, ZERO + day * DAY, now + day * DAY)
    assert planned_days(due(course)) == days


def test_a_course_that_starts_again_says_so(team: Team, now: datetime) -> None:
    SiteRules.objects.filter(site=team.site).update(late_rule="restart", restart_after_days=7)
    team.person.refresh_from_db()
    course = begun(team, now)
    give(team, course, ZERO, now)
    give(team, course, ZERO + 11 * DAY, now + 11 * DAY)
    assert planned_days(due(course)) == [11, 14, 18, 25, 39]
    course.refresh_from_db()
    assert "started again" in course.plan_note


def test_planning_twice_without_a_new_fact_writes_nothing(team: Team, now: datetime) -> None:
    course = begun(team, now)
    give(team, course, ZERO, now)
    before = PlanChange.objects.count(), sorted(due(course))
    course_plan(course_id=course.pk, now=now + DAY)
    assert plans_catch_up(now=now + DAY) == 0
    assert (PlanChange.objects.count(), sorted(due(course))) == before


def test_the_beginning_of_a_plan_is_its_first_entry(team: Team, now: datetime) -> None:
    course = begun(team, now)
    rows = PlanChange.objects.filter(course=course)
    assert [(row.number, row.was_due, row.why) for row in rows] == [
        (number, None, [["begun", ""]]) for number in range(1, 6)
    ]


def test_a_voided_dose_moves_the_plan_back_and_the_history_keeps_both(team: Team, now: datetime) -> None:
    course = begun(team, now)
    give(team, course, ZERO + DAY, now + DAY)
    assert planned_days(due(course)) == [1, 4, 8, 15, 29]
    dose = doses_of(course).get()
    course_dose_void(actor=team.liaison, course=course, dose=dose, reason="wrong person", now=now + DAY)
    course_plan(course_id=course.pk, now=now + 2 * DAY)
    assert planned_days(due(course)) == [0, 3, 7, 14, 28]
    last = history_of(course, follows=False)[0]
    assert last.why == "The dose of 3 Mar 2026 was voided."
    assert last.moves[0] == "Dose 1 no longer counts as given on 3 Mar 2026; it is due on 2 Mar 2026."


def test_a_dose_on_day_two_counts_only_from_day_three(team: Team, now: datetime) -> None:
    course = begun(team, now)
    give(team, course, ZERO, now)
    with pytest.raises(Invalid) as refused:
        give(team, course, ZERO + 2 * DAY, now + 2 * DAY)
    assert refused.value.fields["given_on"] == "Too early: by the plan a dose counts from 5 Mar 2026 on."
    give(team, course, ZERO + 2 * DAY, now + 2 * DAY, confirmed=True)
    assert [given for _n, _due, given in due(course)] == [ZERO, None, None, None, None]
    give(team, course, ZERO + 3 * DAY, now + 3 * DAY)
    assert [given for _n, _due, given in due(course)][:2] == [ZERO, ZERO + 3 * DAY]


def test_before_its_window_twice_a_day_and_beyond_the_regimen_are_caught(team: Team, now: datetime) -> None:
    course = begun(team, now)
    for day in (0, 3):
        give(team, course, ZERO + day * DAY, now + day * DAY)
    with pytest.raises(Conflict, match="already"):
        give(team, course, ZERO + 3 * DAY, now + 3 * DAY)
    # Day 7 has a smallest gap of 4 days in the sample table, so nothing counts before its day.
    with pytest.raises(Invalid, match="Too early"):
        give(team, course, ZERO + 6 * DAY, now + 6 * DAY)
    give(team, course, ZERO + 7 * DAY, now + 7 * DAY)
    for day in (14, 28):
        give(team, course, ZERO + day * DAY, now + day * DAY)
    with pytest.raises(Invalid, match="beyond"):
        give(team, course, ZERO + 40 * DAY, now + 40 * DAY)


@pytest.mark.parametrize(("day", "field"), [(-1, "given_on"), (1, "given_on")])
def test_a_dose_before_the_bite_or_in_the_future_is_refused_even_confirmed(
    team: Team, now: datetime, day: int, field: str
) -> None:
    course = begun(team, now)
    with pytest.raises(Invalid) as refused:
        give(team, course, ZERO + day * DAY, now, confirmed=True)
    assert list(refused.value.fields) == [field]


@pytest.mark.parametrize(
    ("at", "dates"),
    [
        (
            datetime(2028, 2, 26, 6, tzinfo=UTC),
            ["2028-02-26", "2028-02-29", "2028-03-04", "2028-03-11", "2028-03-25"],
        ),
        (
            datetime(2027, 2, 26, 6, tzinfo=UTC),
            ["2027-02-26", "2027-03-01", "2027-03-05", "2027-03-12", "2027-03-26"],
        ),
        (
            datetime(2026, 12, 31, 6, tzinfo=UTC),
            ["2026-12-31", "2027-01-03", "2027-01-07", "2027-01-14", "2027-01-28"],
        ),
    ],
)
def test_leap_days_and_ends_of_months_and_years(team: Team, at: datetime, dates: list[str]) -> None:
    course = begun(team, at)
    assert [due_on.isoformat() for _n, due_on, _g in due(course)] == dates


def test_a_dose_recorded_by_two_desks_at_one_moment_stands_once(team: Team, now: datetime) -> None:
    course = begun(team, now)
    give(team, course, ZERO, now, plan=False)
    with pytest.raises(Conflict):
        course_dose_record(actor=team.officer, course=course, given_on=ZERO, now=now)
    assert courses_behind().filter(pk=course.pk).exists()
    assert plans_catch_up(now=now) == 1 and not courses_behind().exists()
    assert PlannedDose.objects.get(course=course, number=1).given_on == ZERO
