"""The answer strip typed in afterwards: one form in the strip's order, kept together or not at all."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import translation

from safety.forms.case.answer import AnswerForm
from safety.letter.shape import Letter
from safety.models import Course, Incident, Visit
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from staff.models import Dose, Regimen
from tests.factories import Team, give_doses
from tests.safety.letter.scenes import written
from tests.safety.pages.scenes import make_case, real_now, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db


def today(team: Team) -> date:
    return team.site.local_date(real_now())


def post(team: Team, incident: Incident, **changed: Any) -> Any:
    day = today(team)
    said = {
        "clinic": team.clinic.pk,
        "visited_on": day.isoformat(),
        "decision": "course",
        "regimen": team.post_exposure.pk,
        "given_on": day.isoformat(),
        "immunoglobulin": "yes",
        "next_on": (day + timedelta(days=3)).isoformat(),
        "clinician": "Clinician of the test",
    } | changed
    return signed_in_as(team.liaison).post(reverse("case-answer", args=[incident.reference]), said)


def test_visit_decision_course_and_first_dose_are_kept_in_one_go(team: Team) -> None:
    incident = make_case(team)
    assert post(team, incident).status_code == 302
    visit, course = Visit.objects.get(), Course.objects.get()
    assert (visit.decision, visit.immunoglobulin, visit.clinician) == (
        "course",
        "yes",
        "Clinician of the test",
    )
    assert (visit.next_on, visit.note) == (today(team) + timedelta(days=3), "")
    assert course.regimen == team.post_exposure
    assert Dose.objects.get(course_key=course.key).given_on == today(team)


def test_an_empty_strip_keeps_the_visit_alone(team: Team) -> None:
    empty = {"regimen": "", "given_on": "", "next_on": "", "clinician": "", "decision": "pending"}
    assert post(team, make_case(team), **empty).status_code == 302
    assert Visit.objects.get().note == "" and not Course.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"decision": "no-course"}, "regimen"),
        ({"regimen": ""}, "regimen"),
        ({"given_on": -1}, "given_on"),
        ({"given_on": 1}, "given_on"),
        ({"next_on": 0}, "next_on"),
        ({"visited_on": 1, "given_on": ""}, "visited_on"),
    ],
)
def test_what_contradicts_itself_is_asked_about_and_nothing_is_half_kept(
    team: Team, changed: dict[str, Any], field: str
) -> None:
    day = today(team)
    dated = {
        name: (day + timedelta(days=value)).isoformat() if isinstance(value, int) else value
        for name, value in changed.items()
    }
    answer = post(team, make_case(team, days_ago=5), **dated)
    assert answer.status_code == 400 and field in answer.context["form"].errors
    assert not Visit.objects.exists() and not Course.objects.exists() and not Dose.objects.exists()


def test_the_next_date_may_be_the_day_after_the_visit(team: Team) -> None:
    tomorrow = (today(team) + timedelta(days=1)).isoformat()
    assert post(team, make_case(team), next_on=tomorrow, confirmed="on").status_code == 302


def steps_of(team: Team, incident: Incident) -> str:
    return text_of(signed_in_as(team.liaison).get(reverse("case", args=[incident.reference])))


def test_what_disagrees_with_the_record_is_asked_back_and_kept_once_confirmed(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    incident, late = make_case(team), today(team) + timedelta(days=10)
    answer = post(team, incident, next_on=late.isoformat())
    assert answer.status_code == 400 and not Visit.objects.exists()
    assert set(answer.context["form"].errors) == {"regimen", "immunoglobulin", "next_on", "confirmed"}
    assert 'name="confirmed"' in answer.content.decode()
    assert post(team, incident, next_on=late.isoformat(), confirmed="on").status_code == 302
    assert Visit.objects.get().note.startswith("The clinic's paper says so. The table has this regimen for")


def test_what_agrees_is_not_asked_about(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    regimen = Regimen.objects.get(code="pep-immunised-im-0-3", version=1)
    fresh = signed_in_as(team.liaison).get(reverse("case-answer", args=[make_case(team).reference]))
    assert 'name="confirmed"' not in fresh.content.decode()
    assert post(team, make_case(team), regimen=regimen.pk, immunoglobulin="no").status_code == 302
    assert Visit.objects.get().note == ""


def test_dates_that_differ_stay_a_step_until_the_dose_is_given(team: Team) -> None:
    incident = make_case(team, days_ago=3)
    day = today(team) - timedelta(days=3)
    said = {"visited_on": day.isoformat(), "given_on": day.isoformat(), "confirmed": "on"}
    assert post(team, incident, next_on=(day + timedelta(days=5)).isoformat(), **said).status_code == 302
    course = course_plan(course_id=Course.objects.get().pk, now=real_now())
    differ = "The dates differ: the clinic wrote"
    assert differ in steps_of(team, incident)
    member = signed_in_as(team.member).get(reverse("case", args=[incident.reference]))
    assert differ in text_of(member)
    course_dose_record(actor=team.liaison, course=course, given_on=today(team), now=real_now())
    course_plan(course_id=course.pk, now=real_now())
    assert differ not in steps_of(team, incident)


def test_the_date_of_a_course_that_runs_already_is_compared_too(team: Team) -> None:
    incident = make_case(team, days_ago=2)
    start_course(team, incident)
    alone = {"regimen": "", "given_on": "", "immunoglobulin": "unknown"}
    answer = post(team, incident, next_on=(today(team) + timedelta(days=9)).isoformat(), **alone)
    assert set(answer.context["form"].errors) == {"next_on", "confirmed"}


def test_the_form_asks_in_the_order_of_the_strip(team: Team) -> None:
    letter: Letter = written(make_case(team), team, real_now())
    # Date and amount of immunoglobulin stand in the one field of the strip that is about it.
    beside = ("clinic", "confirmed", "immunoglobulin_on", "immunoglobulin_amount")
    with translation.override("en"):
        typed = [str(field.label) for name, field in AnswerForm.base_fields.items() if name not in beside]
    assert typed == [
        "seen on",
        "decision",
        "regimen",
        "first dose given on",
        "immunoglobulin",
        "next date",
        "signed by",
    ]
    assert len(typed) == len(letter.strip_fields)
    assert [name.lower() for name in letter.strip_fields][:3] == typed[:3]
