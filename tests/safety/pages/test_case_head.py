"""The head of a case: whose it is, what their record says, and what else of the same day is open."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from safety.models import Incident
from staff.services.record.titres import titre_record
from tests.factories import Team, give_doses
from tests.safety.pages.scenes import make_case, real_now, see_clinic, signed_in_as, text_of

pytestmark = pytest.mark.django_db


def seen(user: Any, incident: Incident, name: str = "case") -> str:
    return text_of(signed_in_as(user).get(reverse(name, args=[incident.reference])))


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ((), "Before this exposure: no dose on record; newest titre: none on record."),
        ((30, 23), "Before this exposure: 2 of 2 doses count; newest titre: none on record."),
        ((30, 28), "Before this exposure: 1 of 2 doses count; newest titre: none on record."),
    ],
)
def test_the_head_says_how_much_of_the_series_counts(team: Team, days: tuple[int, ...], words: str) -> None:
    give_doses(team.person, team.officer, real_now(), *days)
    incident = make_case(team)
    for user in (team.liaison, team.officer, team.member):
        assert words in seen(user, incident)


def test_a_complete_series_a_titre_and_the_telephone_stand_there(team: Team) -> None:
    now, person = real_now(), team.person
    give_doses(person, team.officer, now, 60, 53, 39)
    titre_record(
        actor=team.officer,
        person=person,
        taken_on=team.site.local_date(now) - timedelta(days=9),
        iu_per_ml=Decimal("0.71"),
        now=now,
    )
    person.phone = "000 77"
    person.save(update_fields=["phone"])
    page = signed_in_as(team.liaison).get(reverse("case", args=[make_case(team).reference]))
    assert "complete series since" in text_of(page) and "newest titre: 0.71 IU/mL" in text_of(page)
    assert 'href="tel:00077"' in page.content.decode()


def test_another_open_case_of_the_same_day_is_named(team: Team) -> None:
    first, second, older = make_case(team), make_case(team), make_case(team, days_ago=2)
    said = "has another open case of the same day: bite"
    text = seen(team.liaison, first)
    assert said in text and second.reference in text and older.reference not in text
    assert said not in seen(team.liaison, older)
    Incident.objects.filter(pk=second.pk).update(closed_at=real_now(), close_reason="the same bite")
    assert said not in seen(team.liaison, first)


def test_what_closing_is_refused_for_is_said_before_a_reason_is_typed(team: Team) -> None:
    incident = make_case(team)
    assert "No clinic visit is recorded" in seen(team.liaison, incident, "case-close")
    see_clinic(team, incident, decision="no-course")
    assert "No clinic visit is recorded" not in seen(team.liaison, incident, "case-close")


def test_an_exposures_hold_leads_to_its_case(team: Team) -> None:
    incident = make_case(team)
    link = f'<a href="{reverse("case", args=[incident.reference])}">Case {incident.reference}</a>'
    for user in (team.officer, team.member):
        page = signed_in_as(user).get(reverse("person", args=[team.person.pk]))
        assert link in " ".join(page.content.decode().split())


@pytest.mark.parametrize(
    ("show", "words"), [("open", "No case is open."), ("closed", "No case is closed yet.")]
)
def test_an_empty_list_says_of_what(team: Team, show: str, words: str) -> None:
    assert words in text_of(signed_in_as(team.liaison).get(reverse("cases"), {"show": show}))
