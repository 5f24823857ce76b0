"""The desk: what waits, in order of haste, with a way to do it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from safety.models import Clinic, Course, Incident, PlannedDose
from safety.selectors.case.desk import Desk
from safety.services.animal.observation import observation_begin
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from staff.models import AuditEntry
from staff.services.record.titres import titre_record
from tests.factories import Team, make_person
from tests.safety.pages.scenes import make_case, real_now, see_clinic, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db


def desk(team: Team) -> Desk:
    found: Desk = signed_in_as(team.liaison).get(reverse("desk")).context["desk"]
    return found


def codes(tasks: Any) -> list[str]:
    return [task.need.code for task in tasks]


def test_an_empty_desk_says_so_for_each_part(team: Team) -> None:
    Clinic.objects.update(confirmed_on=team.site.local_date(real_now()))
    page = signed_in_as(team.liaison).get(reverse("desk"))
    assert page.context["desk"].empty
    for words in ("Nothing is late", "Nothing is for today", "Nothing comes up", "was asked lately"):
        assert words in text_of(page)


def test_what_is_late_stands_by_how_late_it_is_and_today_comes_after(team: Team) -> None:
    older, newer, fresh = make_case(team, days_ago=3), make_case(team, days_ago=2), make_case(team)
    found = desk(team)
    visits = [task.incident for task in found.late if task.need.code == "visit"]
    assert visits == [older, newer]
    assert [task.days for task in found.late if task.need.code == "visit"] == [3, 2]
    assert fresh in [task.incident for task in found.today]


def test_the_missing_decision_and_the_missing_course_stand_among_the_late(team: Team) -> None:
    undecided, uncoursed = make_case(team), make_case(team)
    see_clinic(team, undecided, decision="pending")
    see_clinic(team, uncoursed)
    page = signed_in_as(team.liaison).get(reverse("desk"))
    assert {"decision", "course"} <= set(codes(page.context["desk"].late))
    visit = undecided.visits.get()
    html = page.content.decode()
    assert reverse("case-decision", args=[undecided.reference, visit.pk]) in html
    assert reverse("case-course", args=[uncoursed.reference]) in html


@pytest.mark.parametrize(
    ("days_ago", "where"),
    [(2, "coming"), (3, "today"), (4, "late")],
    ids=["day-before", "the-day", "day-after"],
)
def test_a_dose_moves_from_coming_over_today_to_late(team: Team, days_ago: int, where: str) -> None:
    """The four-dose course by muscle: the second dose on day 3 (ACIP 2010)."""
    course = start_course(team, make_case(team, days_ago=days_ago))
    course_dose_record(actor=team.liaison, course=course, given_on=course.starts_on, now=real_now())
    course_plan(course_id=course.pk, now=real_now())
    assert "dose" in codes(getattr(desk(team), where))


def test_a_clinic_is_to_be_asked_again_after_a_week_and_a_day(team: Team) -> None:
    today = team.site.local_date(real_now())
    for days, wanted in ((0, 0), (7, 0), (8, 1)):
        Clinic.objects.update(confirmed_on=today - timedelta(days=days))
        assert len(desk(team).clinics) == wanted
    Clinic.objects.update(confirmed_on=None)
    assert desk(team).clinics
    Clinic.objects.update(active=False)
    assert not desk(team).clinics


def finished_course(team: Team, *, last_dose_days_ago: int) -> Course:
    """A course of somebody immunocompromised of which every dose is given."""
    type(team.person).objects.update(immunocompromised=True)
    course = start_course(team, make_case(team, days_ago=last_dose_days_ago))
    given = team.site.local_date(real_now()) - timedelta(days=last_dose_days_ago)
    PlannedDose.objects.filter(course=course).update(given_on=given)
    return course


@pytest.mark.parametrize(
    ("days", "where"),
    [(6, "coming"), (7, "today"), (14, "today"), (15, "late")],
    ids=lambda value: str(value),
)
def test_blood_is_asked_for_from_day_7_to_day_14_after_the_last_dose(
    team: Team, days: int, where: str
) -> None:
    """ACIP 2010: a titre 7 to 14 days after the last dose of somebody immunocompromised."""
    finished_course(team, last_dose_days_ago=days)
    assert "titre" in codes(getattr(desk(team), where))


@pytest.mark.parametrize(("taken", "asked"), [(9, True), (8, True), (7, False), (6, False)])
def test_a_titre_of_the_window_settles_it_and_an_earlier_one_does_not(
    team: Team, taken: int, asked: bool
) -> None:
    """`taken` days ago; the last dose was 14 days ago, so the window opened 7 days ago."""
    finished_course(team, last_dose_days_ago=14)
    day = team.site.local_date(real_now()) - timedelta(days=taken)
    titre_record(
        actor=team.liaison, person=team.person, taken_on=day, iu_per_ml=Decimal("1.2"), now=real_now()
    )
    found = desk(team)
    assert ("titre" in codes([*found.late, *found.today, *found.coming])) == asked


def test_nobody_else_is_asked_for_a_titre(team: Team) -> None:
    finished_course(team, last_dose_days_ago=7)
    type(team.person).objects.update(immunocompromised=False)
    assert "titre" not in codes(desk(team).today)


def test_the_desk_is_a_look_that_is_kept_and_its_first_page_of_the_liaison(team: Team) -> None:
    make_case(team)
    client = signed_in_as(team.liaison)
    assert client.get(reverse("home"), follow=True).redirect_chain[-1][0] == reverse("desk")
    assert AuditEntry.objects.filter(action="board.seen", actor=team.liaison, target="desk").exists()


def test_the_desk_takes_the_same_queries_for_one_case_and_for_many(
    team: Team, django_assert_max_num_queries: Any
) -> None:
    start_course(team, make_case(team))
    client = signed_in_as(team.liaison)
    with django_assert_max_num_queries(40) as one:
        client.get(reverse("desk"))
    for number in range(5):
        team.person = make_person(team.site, team.officer, real_now(), number=f"m{number}")
        start_course(team, make_case(team))
    with django_assert_max_num_queries(len(one)):
        assert len(client.get(reverse("desk")).context["desk"].today) >= 5
    assert Incident.objects.count() == 6


def test_an_animal_nobody_has_asked_about_stands_on_the_desk(team: Team) -> None:
    incident = make_case(team, days_ago=2, animal="dog-owned")
    observation_begin(actor=team.liaison, incident=incident, described="brown dog", now=real_now())
    page = signed_in_as(team.liaison).get(reverse("desk"))
    found = page.context["desk"]
    assert {"animal-check-missing", "animal-check-today"} & set(codes([*found.late, *found.today]))
    assert reverse("animal-check", args=[incident.reference]) in page.content.decode()
