"""The clinic a crew's lead rang before it left goes first for everybody of that crew, by every door, that day alone."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from safety.models import Clinic, Departure, Incident
from safety.pages.clinic.clinic_choice import clinic_advice, clinics_today
from safety.selectors.clinic.clinic_choice import clinic_of_the_day
from safety.selectors.phone.phone import field_card
from tests.safety.clinic_scenes import bite
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db


@pytest.fixture
def chosen(day: Day) -> Clinic:
    """About eight minutes farther than the nearest for who stands at -1.29 N."""
    near = {"hours": "24/7", "vaccine": "yes", "confirmed_on": day.outing.date, "longitude": 36.8}
    Clinic.objects.update(**near, latitude=-1.30)
    return Clinic.objects.create(site=day.team.site, name="Test Rung", phone="000 2", latitude=-1.335, **near)


def case_of(day: Day) -> Incident:
    incident = bite(day.team, day.now, day.people["catcher"])
    Incident.objects.filter(pk=incident.pk).update(latitude=-1.29, longitude=36.8)
    incident.refresh_from_db()
    return incident


def test_case_receipt_card_and_crew_name_the_clinic_the_lead_rang(day: Day, chosen: Clinic) -> None:
    day.leave(clinic=chosen)
    # Whoever is bitten comes off the roster, and was of the crew all the same.
    incident = case_of(day)
    for by_record in (True, False):
        advice = clinic_advice(incident, day.now, by_record=by_record)
        assert advice.first and advice.first.clinic == chosen
        assert "your crew goes by today" in advice.why[0]
    card = field_card(day.people["catcher"], day.now)
    assert (card.day, card.clinic_of_the_day) == (day.outing.date, chosen.pk)
    assert clinics_today(day.crew, day.now)[0].clinic == chosen
    assert field_card(day.spare, day.now).clinic_of_the_day is None
    Departure.objects.update(clinic_open=False, missing_reason="it shut at noon")
    advice = clinic_advice(incident, day.now, by_record=True)
    assert advice.first and advice.first.clinic != chosen


def test_it_is_the_clinic_of_that_day_and_only_if_it_said_that_it_is_open(day: Day, chosen: Clinic) -> None:
    day.leave(clinic=chosen, clinic_open=False, missing_reason="nobody answered the telephone")
    assert clinic_of_the_day(day.team.site, day.now, crew=day.crew) is None


def test_on_the_next_day_it_is_nobodys_clinic_of_the_day(day: Day, chosen: Clinic, now: datetime) -> None:
    day.leave(clinic=chosen)
    assert clinic_of_the_day(day.team.site, now, crew=day.crew) == chosen.pk
    assert clinic_of_the_day(day.team.site, now + timedelta(days=1), crew=day.crew) is None
