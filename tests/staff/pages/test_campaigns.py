"""The pages of a campaign: who can be ready, the sessions, their lists, and who really came."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse

from staff.models import Campaign, Regimen, Session
from staff.selectors.campaign.campaigns import first_day
from staff.services.record.records import dose_record
from tests.factories import Team, approve, make_person
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as
from tests.staff.planning.scenes import SKIN, make_campaign, newcomers, skin_campaign

EVERY_DAY = [str(day) for day in range(7)]


def wanted(team: Team, now: datetime, **changed: Any) -> dict[str, Any]:
    approve(team.site, team.officer, SKIN)
    return {
        "site": team.site.pk,
        "name": "North round",
        "starts_on": team.site.local_date(now) + timedelta(days=30),
        "regimen": Regimen.objects.get(code=SKIN).pk,
        "route": "ID",
        "vial_ml": "1.0",
        "dose_ml": "0.1",
        "place": "Test Clinic",
        "numbers": "N0\r\n N2 \r\n",
        **changed,
    }


def planned(team: Team, days_ahead: int = 30) -> tuple[Campaign, list[Session]]:
    """A campaign of three newcomers with the sessions the page proposes, kept through the page."""
    now = real_now()
    campaign = skin_campaign(team, now, days_ahead=days_ahead, people=newcomers(team, now, 3))
    asked = {"first": team.site.local_date(now).isoformat(), "weekdays": EVERY_DAY}
    officer = signed_in_as(team.officer)
    seen = officer.get(reverse("campaign", args=[campaign.pk]), asked).context["seen"]
    answer = officer.post(reverse("campaign-plan", args=[campaign.pk]), {**asked, "seen": seen})
    assert answer["Location"] == reverse("campaign-lists", args=[campaign.pk])
    return campaign, list(campaign.sessions.all())


def test_the_staff_numbers_of_a_list_choose_the_people(team: Team) -> None:
    now = real_now()
    newcomers(team, now, 3)
    answer = signed_in_as(team.officer).post(reverse("campaign-add"), wanted(team, now))
    campaign = Campaign.objects.get()
    assert answer["Location"] == reverse("campaign", args=[campaign.pk])
    assert [row.person.number for row in campaign.members.all()] == ["N0", "N2"]


def test_without_numbers_everybody_with_the_team_on_the_first_day_is_on_the_list(team: Team) -> None:
    now = real_now()
    leaver = newcomers(team, now, 1)[0]
    leaver.active_until = team.site.local_date(now)
    leaver.save()
    signed_in_as(team.officer).post(reverse("campaign-add"), wanted(team, now, numbers=""))
    assert [row.person for row in Campaign.objects.get().members.all()] == [team.person]


def test_the_route_follows_the_regimen_unless_told_otherwise(team: Team) -> None:
    officer, said = signed_in_as(team.officer), wanted(team, real_now(), route="", numbers="")
    assert officer.get(reverse("campaign-add")).context["form"]["route"].value() is None
    assert officer.post(reverse("campaign-add"), said).status_code == 302
    assert Campaign.objects.get().route == "ID"


@pytest.mark.parametrize(("at", "days"), [((8, 59), 0), ((9, 0), 1), ((22, 50), 1)])
def test_no_session_is_planned_for_a_day_on_which_it_has_opened(
    team: Team, now: datetime, at: tuple[int, int], days: int
) -> None:
    """A session opens at 9 by the site's clock."""
    campaign = make_campaign(team, now, days_ahead=30, people=newcomers(team, now, 1))
    clock = now.astimezone(team.site.zone).replace(hour=at[0], minute=at[1])
    assert first_day(campaign, clock) == clock.date() + timedelta(days=days)


def test_the_page_proposes_from_the_first_day_that_is_left(team: Team) -> None:
    now = real_now()
    campaign = skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, 1))
    asked = {"first": team.site.local_date(now).isoformat(), "weekdays": EVERY_DAY}
    answer = signed_in_as(team.officer).get(reverse("campaign", args=[campaign.pk]), asked)
    assert answer.context["proposal"].plan.days[0] == first_day(campaign, now)


def test_a_proposal_says_who_could_come_sooner(team: Team) -> None:
    """Two share a vial on the day on which the second's next dose counts; the first could come before."""
    now = real_now()
    sooner, later = newcomers(team, now, 2)
    for person, ago in ((sooner, 9), (later, 3)):
        given_on = team.site.local_date(now) - timedelta(days=ago)
        dose_record(actor=team.officer, person=person, given_on=given_on, route="ID", now=now)
    campaign = skin_campaign(team, now, days_ahead=30, people=[sooner, later])
    asked = {"first": team.site.local_date(now).isoformat(), "weekdays": EVERY_DAY}
    answer = signed_in_as(team.officer).get(reverse("campaign", args=[campaign.pk]), asked)
    assert answer.context["proposal"].put_off == [(sooner, first_day(campaign, now))]
    assert "1 person could come sooner" in answer.content.decode()


def test_a_number_nobody_has_is_named_at_the_field(team: Team) -> None:
    answer = signed_in_as(team.officer).post(
        reverse("campaign-add"), wanted(team, real_now(), numbers="nobody-1")
    )
    assert answer.status_code == 400
    assert "nobody-1" in answer.context["form"].errors["numbers"][0]
    assert not Campaign.objects.exists()


def test_the_page_names_whom_to_replace_and_the_last_day_of_the_next_dose(team: Team) -> None:
    now = real_now()
    people = [clear_person(team), make_person(team.site, team.officer, now, number="late", name="Late Comer")]
    late = make_campaign(team, now, days_ahead=20, people=people)
    page = signed_in_as(team.liaison).get(reverse("campaign", args=[late.pk])).content.decode()
    assert page.index("Late Comer") < page.index("Clear Person")
    assert "replace" in page
    assert "health authorities" in page


def test_the_proposal_shows_vials_against_one_by_one(team: Team) -> None:
    now = real_now()
    campaign = skin_campaign(team, now, days_ahead=30, people=newcomers(team, now, 3))
    asked = {"first": team.site.local_date(now).isoformat(), "weekdays": EVERY_DAY}
    answer = signed_in_as(team.officer).get(reverse("campaign", args=[campaign.pk]), asked)
    plan = answer.context["proposal"].plan
    assert (plan.vials, plan.vials_one_by_one, len(plan.days)) == (3, 9, 3)
    assert "vials if each came alone" in answer.content.decode()


def test_without_a_weekday_the_page_says_so_and_proposes_nothing(team: Team) -> None:
    now = real_now()
    campaign = make_campaign(team, now, days_ahead=30, people=newcomers(team, now, 1))
    answer = signed_in_as(team.officer).get(reverse("campaign", args=[campaign.pk]), {"first": "2031-01-01"})
    assert answer.status_code == 400
    assert answer.context["proposal"] is None


def test_the_lists_hold_everybody_once_a_dose_with_the_vials_to_bring(team: Team) -> None:
    campaign, sessions = planned(team)
    page = signed_in_as(team.liaison).get(reverse("campaign-lists", args=[campaign.pk])).content.decode()
    assert page.count("Newcomer 01") == len(sessions) == 3
    assert page.count("1 vial</strong>") == 3
    assert "6 hours" in page


def test_a_cancelled_session_leaves_the_lists(team: Team) -> None:
    campaign, sessions = planned(team)
    officer = signed_in_as(team.officer)
    officer.post(reverse("session-cancel", args=[sessions[1].pk]), {"reason": "the clinic is closed"})
    page = officer.get(reverse("campaign-lists", args=[campaign.pk]))
    assert len(page.context["sheets"]) == 2


def test_the_list_of_people_can_be_cut(team: Team) -> None:
    campaign, _sessions = planned(team)
    kept = campaign.members.first()
    assert kept is not None
    signed_in_as(team.officer).post(
        reverse("campaign-people", args=[campaign.pk]), {"people": [kept.person_id]}
    )
    assert [row.person_id for row in campaign.members.all()] == [kept.person_id]


def test_the_number_of_queries_doesnt_grow_with_the_team(
    team: Team, django_assert_max_num_queries: Any
) -> None:
    now = real_now()
    few = make_campaign(team, now, days_ahead=30, people=newcomers(team, now, 2))
    officer = signed_in_as(team.officer)
    with django_assert_max_num_queries(60) as counted:
        officer.get(reverse("campaign", args=[few.pk]))
    many = [make_person(team.site, team.officer, now, number=f"M{n}", name=f"More {n}") for n in range(15)]
    more = make_campaign(team, now, days_ahead=30, people=many, name="Larger")
    with django_assert_max_num_queries(len(counted)):
        officer.get(reverse("campaign", args=[more.pk]))


def test_clearance_is_explained_with_the_way_to_a_clear_date(team: Team) -> None:
    today = team.site.local_date(real_now())
    page = signed_in_as(team.officer).get(reverse("person-clearance", args=[team.person.pk]))
    assert page.context["explained"].clear_on == today + timedelta(days=21)
    text = page.content.decode()
    assert "at the earliest" in text and "Dose 3" in text and "Pre-exposure series" in text
    wrong = signed_in_as(team.member).get(
        reverse("person-clearance", args=[team.person.pk]), {"on": "no day"}
    )
    assert wrong.status_code == 400
