"""Several doses recorded in one go: all or none, each by its own date, never the wrong one."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from safety.models import Course
from safety.selectors.case.cases import doses_of
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from staff.models import Dose
from tests.factories import Team, make_person
from tests.safety.pages.scenes import make_case, real_now, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db


def two_courses(team: Team) -> tuple[Course, Course]:
    first = start_course(team, make_case(team))
    team.person = make_person(team.site, team.officer, real_now(), number="second")
    return first, start_course(team, make_case(team))


def ticked(course: Course, number: int = 1, **said: Any) -> dict[str, Any]:
    prefix = f"c{course.pk}-{number}"
    values = {"given": "on", "given_on": course.starts_on.isoformat(), "batch": ""} | said
    return {f"{prefix}-{name}": value for name, value in values.items() if value is not None}


def post(team: Team, data: dict[str, Any]) -> Any:
    return signed_in_as(team.liaison).post(reverse("doses-due"), data)


def test_the_ticked_doses_are_recorded_with_their_dates_and_batches_and_no_other(team: Team) -> None:
    first, second = two_courses(team)
    third = start_course(team, make_case(team))
    page = post(team, ticked(first, batch="B-17") | ticked(second) | ticked(third, given=None))
    assert page.status_code == 302
    assert [(d.given_on, d.batch) for d in doses_of(first)] == [(first.starts_on, "B-17")]
    assert doses_of(second).get().place == team.clinic.name
    assert not doses_of(third).exists()


def test_one_wrong_row_keeps_every_row_from_being_recorded_and_is_named(team: Team) -> None:
    first, second = two_courses(team)
    tomorrow = (team.site.local_date(real_now()) + timedelta(days=1)).isoformat()
    page = post(team, ticked(first) | ticked(second, given_on=tomorrow))
    assert page.status_code == 400
    assert not Dose.objects.filter(course_key__isnull=False).exists()
    assert [row.key for row in page.context["wrong"]] == [f"c{second.pk}-1"]
    assert f'value="{tomorrow}"' in page.content.decode()


@pytest.mark.parametrize("given_on", ["", "31 February", "2026-13-01"])
def test_a_ticked_row_without_a_readable_date_says_so(team: Team, given_on: str) -> None:
    course = start_course(team, make_case(team))
    page = post(team, ticked(course, given_on=given_on))
    assert page.status_code == 400
    assert not doses_of(course).exists()
    assert page.context["wrong"][0].form.errors["given_on"]


def test_a_date_without_a_tick_records_nothing(team: Team) -> None:
    course = start_course(team, make_case(team))
    page = post(team, ticked(course, given=None))
    assert page.status_code == 400
    assert "Tick the doses that were given" in text_of(page)
    assert not doses_of(course).exists()


def test_a_dose_recorded_meanwhile_is_not_counted_as_the_next_one(team: Team) -> None:
    course = start_course(team, make_case(team, days_ago=4))
    course_dose_record(actor=team.officer, course=course, given_on=course.starts_on, now=real_now())
    while_computing = post(team, ticked(course, given_on=team.site.local_date(real_now()).isoformat()))
    assert "being computed" in text_of(while_computing)
    course_plan(course_id=course.pk, now=real_now())
    # The row of dose 1 is gone from the list, so what was ticked in an older page is no longer asked.
    late = post(team, ticked(course, given_on=team.site.local_date(real_now()).isoformat()))
    assert late.status_code == 400
    assert doses_of(course).count() == 1


def test_two_doses_of_one_course_are_taken_in_the_order_of_their_dates(team: Team) -> None:
    course = start_course(team, make_case(team, days_ago=4))
    day_3 = (course.starts_on + timedelta(days=3)).isoformat()
    page = post(team, ticked(course, 2, given_on=day_3) | ticked(course, 1))
    assert page.status_code == 302
    planned = course_plan(course_id=course.pk, now=real_now()).planned_doses.all()
    assert [dose.given_on for dose in planned][:2] == [course.starts_on, course.starts_on + timedelta(days=3)]


def test_sent_again_the_page_records_nothing_twice(team: Team) -> None:
    course = start_course(team, make_case(team))
    data = ticked(course)
    assert post(team, data).status_code == 302
    assert post(team, data).status_code in (409, 400)
    assert doses_of(course).count() == 1


def test_ones_own_dose_has_no_tick_and_a_forged_one_records_nothing(team: Team) -> None:
    course = start_course(team, make_case(team))
    type(team.person).objects.filter(pk=course.person_id).update(user=team.liaison)
    assert post(team, ticked(course)).status_code == 400
    assert not doses_of(course).exists()
    assert "somebody else records it" in text_of(signed_in_as(team.liaison).get(reverse("doses-due")))
