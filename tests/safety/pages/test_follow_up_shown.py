"""Doses after an exposure, where people look: the person's page, the own record, the board, and the strip on top."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from safety.models import Course, Incident, PlannedDose
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from tests.factories import Team, make_person
from tests.safety.pages.scenes import make_case, real_now, see_clinic, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db
LATE = "overdue after an exposure"
STRIP = 'aria-label="Needs somebody now"'


def seen(user: Any, name: str, *args: Any) -> str:
    return text_of(signed_in_as(user).get(reverse(name, args=args)))


def late_course(team: Team) -> Course:
    """Dose 1 given five days ago, dose 2 due two days ago."""
    course = start_course(team, make_case(team, days_ago=5))
    course_dose_record(actor=team.liaison, course=course, given_on=course.starts_on, now=real_now())
    return course_plan(course_id=course.pk, now=real_now())


def test_the_record_names_the_doses_to_come_first_with_case_clinic_and_telephone(team: Team) -> None:
    reference = late_course(team).incident.reference
    for user, name, args in (
        (team.liaison, "person", (team.person.pk,)),
        (team.member, "person", (team.person.pk,)),
        (team.member, "me", ()),
    ):
        page = signed_in_as(user).get(reverse(name, args=args))
        text, html = text_of(page), page.content.decode()
        card = text[text.index("Doses still to come") : text.index("Clear dates")]
        assert card.index(f"After the bite {reference} : dose 2,") < card.index("Dose 1:")
        assert f"After the bite {reference} : dose 1" not in card
        assert "Test Clinic, 000 1" in card and "overdue" in card
        assert f'href="{reverse("case", args=[reference])}"' in html


def test_a_course_whose_dates_are_not_computed_yet_is_there_all_the_same(team: Team) -> None:
    start_course(team, make_case(team), planned=False)
    assert "dates of the doses are being computed" in seen(team.member, "me")


def test_an_ended_course_is_no_longer_there(team: Team) -> None:
    course = late_course(team)
    Course.objects.filter(pk=course.pk).update(
        ended_on=course.starts_on, end_reason="healthy dog", ended_by=team.liaison
    )
    assert "After the bite" not in seen(team.member, "me")
    assert LATE not in seen(team.officer, "readiness")


def test_the_board_marks_who_has_an_overdue_dose_for_whoever_may_know(team: Team) -> None:
    course = late_course(team)
    for user, marked in ((team.officer, True), (team.liaison, True), (team.lead, False)):
        assert (LATE in seen(user, "readiness")) is marked
    PlannedDose.objects.filter(course=course).update(due_on=team.site.local_date(real_now()))
    assert LATE not in seen(team.officer, "readiness")


def test_the_strip_counts_what_waits_on_every_page_of_officer_and_liaison(team: Team) -> None:
    make_case(team)
    late_course(team)
    for user in (team.officer, team.liaison):
        text = seen(user, "readiness")
        assert "1 case waits for a clinic visit" in text
        assert "1 dose after an exposure is overdue" in text


def test_the_strip_is_not_there_without_anything_to_say_nor_for_other_roles(team: Team) -> None:
    see_clinic(team, make_case(team), decision="no-course")
    assert STRIP not in signed_in_as(team.officer).get(reverse("outings")).content.decode()
    make_case(team)
    for user, there in (
        (team.officer, True),
        (team.lead, False),
        (team.member, False),
        (team.stranger, False),
    ):
        assert (STRIP in signed_in_as(user).get(reverse("outings")).content.decode()) is there
    assert STRIP not in signed_in_as(team.officer).get(reverse("report")).content.decode()
    Incident.objects.update(closed_at=real_now(), close_reason="harmless")
    assert STRIP not in signed_in_as(team.officer).get(reverse("outings")).content.decode()


def test_the_board_takes_the_same_queries_whatever_waits(team: Team) -> None:
    def asked() -> int:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            client.get(reverse("readiness"))
        return len(captured)

    client = signed_in_as(team.officer)
    late_course(team)
    make_case(team)
    client.get(reverse("readiness"))
    one = asked()
    for number in range(3):
        team.person = make_person(
            team.site, team.officer, real_now() - timedelta(days=9), number=f"9{number}"
        )
        late_course(team)
        make_case(team)
    assert asked() == one
