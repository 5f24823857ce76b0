"""Somebody on the lists of two campaigns: nobody is to be asked twice for one dose."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.urls import reverse

from staff.models import Dose, Session
from staff.selectors.campaign.campaigns import candidate_days, propose
from staff.selectors.campaign.sessions import session_lines
from staff.services.campaign.sessions import session_record
from staff.services.record.letters import immunocompromised_set
from staff.services.record.records import dose_record
from tests.factories import Team, give_doses
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.planning.scenes import keep_proposal, make_campaign, newcomers, notes_of

pytestmark = pytest.mark.django_db


def two_first_sessions(team: Team, now: datetime) -> tuple[Session, Session]:
    """Two people on both lists, on one day."""
    people = newcomers(team, now, 2)
    first, second = (
        keep_proposal(team, make_campaign(team, now, days_ahead=30, people=people, name=name), now)[0]
        for name in ("Spring round", "Autumn round")
    )
    assert first.held_on == second.held_on
    return first, second


def test_a_list_strikes_out_who_got_the_dose_at_another_campaigns_session(team: Team) -> None:
    now = real_now()
    first, second = two_first_sessions(team, now)
    session_record(actor=team.liaison, session=first, notes=notes_of(first, "given")[:1], now=now)
    html = signed_in_as(team.liaison).get(reverse("session", args=[second.pk])).content.decode()
    assert html.count("has it since") == html.count("<s>Newcomer") == html.count("☐") == 1
    assert "1 person." in html and "<strong>1 vial</strong>" in html


def test_given_to_all_leaves_out_who_has_the_dose_already(team: Team) -> None:
    now = real_now()
    first, second = two_first_sessions(team, now)
    session_record(actor=team.liaison, session=first, notes=notes_of(first, "given")[:1], now=now)
    liaison, url = signed_in_as(team.liaison), reverse("session-given", args=[second.pk])
    assert "has it since" in liaison.get(url).content.decode()
    assert liaison.post(url, {"rest": "given", "product": "", "batch": ""}).status_code == 302
    assert sorted(second.places.values_list("outcome", flat=True)) == ["expected", "given"]
    assert Dose.objects.count() == 2


def test_dose_two_on_record_strikes_out_dose_two_and_not_dose_three(team: Team, now: datetime) -> None:
    campaign = make_campaign(team, now, days_ahead=30, people=newcomers(team, now, 1))
    give_doses(campaign.members.get().person, team.officer, now, 9)
    second, third = keep_proposal(team, campaign, now)
    today = team.site.local_date(now)
    dose_record(actor=team.officer, person=campaign.members.get().person, given_on=today, route="IM", now=now)
    assert [session_lines(one)[0].had_on for one in (second, third)] == [today, None]


def test_a_dose_that_doesnt_count_strikes_out_no_later_day(team: Team, now: datetime) -> None:
    campaign = make_campaign(team, now, days_ahead=40, people=newcomers(team, now, 1))
    person = campaign.members.get().person
    give_doses(person, team.officer, now, 3)
    second, _third = keep_proposal(team, campaign, now)
    give_doses(person, team.officer, now, 0)
    assert second.held_on > team.site.local_date(now)
    assert session_lines(second)[0].had_on is None


def test_a_complete_series_of_another_route_strikes_out_what_was_expected(team: Team, now: datetime) -> None:
    campaign = make_campaign(team, now, days_ahead=30, people=newcomers(team, now, 1))
    first, *_later = keep_proposal(team, campaign, now)
    give_doses(campaign.members.get().person, team.officer, now, 40, 33, 12)
    done = team.site.local_date(now) - timedelta(days=12)
    assert session_lines(first)[0].had_on == done


def test_a_list_says_that_the_clinician_has_to_be_asked_and_not_why(team: Team) -> None:
    now = real_now()
    session = two_first_sessions(team, now)[0]
    immunocompromised_set(
        actor=team.officer, person=session.places.all()[0].person, immunocompromised=True, reason="x", now=now
    )
    html = signed_in_as(team.liaison).get(reverse("session", args=[session.pk])).content.decode()
    assert html.count("ask the clinician first") == 1 and "mmunocompromised" not in html


def test_a_proposal_names_who_stands_on_another_campaigns_list(team: Team) -> None:
    now = real_now()
    first, _second = two_first_sessions(team, now)
    today = team.site.local_date(now)
    asked = {"first": today.isoformat(), "weekdays": [str(day) for day in range(7)]}
    html = (
        signed_in_as(team.officer).get(reverse("campaign", args=[first.campaign_id]), asked).content.decode()
    )
    assert "Newcomer 00 is expected for dose 1 on" in html and "“Autumn round” too" in html
    days = candidate_days(first.campaign, today, range(7))
    assert {
        place.session.campaign.name for place in propose(first.campaign, today=today, days=days).elsewhere
    } == {"Autumn round"}
