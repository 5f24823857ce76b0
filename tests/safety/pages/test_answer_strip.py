"""The answer strip typed in afterwards: one form in the strip's order, kept together or not at all."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import translation

from safety.forms.case import AnswerForm
from safety.letter.shape import Letter
from safety.models import Course, Incident, Visit
from staff.models import Dose
from tests.factories import Team
from tests.safety.letter.scenes import written
from tests.safety.pages.scenes import make_case, real_now, signed_in_as

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
    assert visit.note.startswith("Next date on the answer strip:")
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
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert not Visit.objects.exists() and not Course.objects.exists() and not Dose.objects.exists()


def test_the_next_date_may_be_the_day_after_the_visit(team: Team) -> None:
    assert (
        post(team, make_case(team), next_on=(today(team) + timedelta(days=1)).isoformat()).status_code == 302
    )


def test_the_form_asks_in_the_order_of_the_strip(team: Team) -> None:
    letter: Letter = written(make_case(team), team, real_now())
    with translation.override("en"):
        typed = [str(field.label) for name, field in AnswerForm.base_fields.items() if name != "clinic"]
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
