"""The case of a liaison who was bitten: visits and doses are for somebody else to record, the hold for nobody to shed."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from safety.models import Incident, Visit
from safety.services.course.plan import course_plan
from staff.models import Dose, Hold
from tests.factories import Team, also_member
from tests.safety.pages.scenes import make_case, real_now, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db
SENTENCE = "Somebody else must record this for you: nobody clears themself."


@pytest.fixture
def bitten(team: Team) -> Incident:
    also_member(team, team.liaison)
    return make_case(team)


def said(team: Team, incident: Incident) -> dict[str, Any]:
    day = incident.site.local_date(incident.happened_at)
    return {"clinic": team.clinic.pk, "visited_on": day, "decision": "no-course", "immunoglobulin": "unknown"}


@pytest.mark.parametrize("route", ["case-visit", "case-answer"])
def test_ones_own_visit_is_refused_and_the_hold_stands(route: str, team: Team, bitten: Incident) -> None:
    url = reverse(route, args=[bitten.reference])
    answer = signed_in_as(team.liaison).post(url, said(team, bitten))
    assert (answer.status_code, SENTENCE in text_of(answer)) == (403, True)
    assert not Visit.objects.exists() and Hold.objects.get().released_at is None
    assert signed_in_as(team.officer).post(url, said(team, bitten)).status_code == 302
    assert Hold.objects.get().released_at is not None


def test_the_own_case_offers_neither_visit_nor_dose(team: Team, bitten: Incident) -> None:
    visit = reverse("case-visit", args=[bitten.reference])
    pages = {
        user: signed_in_as(user).get(reverse("case", args=[bitten.reference]))
        for user in (team.liaison, team.officer)
    }
    assert f'href="{visit}"' not in pages[team.liaison].content.decode()
    assert "You are the person of this case" in text_of(pages[team.liaison])
    assert f'href="{visit}"' in pages[team.officer].content.decode()
    assert reverse("case-referral", args=[bitten.reference]) in pages[team.liaison].content.decode()


def test_a_dose_of_the_own_course_is_somebody_elses_to_record(team: Team) -> None:
    course = start_course(team, make_case(team))
    also_member(team, team.liaison)
    url = reverse("course-dose", args=[course.pk])
    for page in (reverse("doses-due"), reverse("case", args=[course.incident.reference])):
        assert f'href="{url}"' not in signed_in_as(team.liaison).get(page).content.decode()
        assert f'href="{url}"' in signed_in_as(team.officer).get(page).content.decode()
    dose = {"given_on": team.site.local_date(real_now())}
    answer = signed_in_as(team.liaison).post(url, dose)
    assert SENTENCE in text_of(answer) and not Dose.objects.exists()
    assert signed_in_as(team.officer).post(url, dose).status_code == 302
    course_plan(course_id=course.pk, now=real_now())
