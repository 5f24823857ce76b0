"""Outings made from a campaign's areas: each once, none that stands is touched."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from staff.ground.errors import Conflict, Invalid
from staff.models import AuditEntry, CampaignArea, Outing
from staff.selectors.campaign.field_plan import DayState
from staff.services.campaign.field_plan import area_change, area_remove, plan_of_days
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.site.holidays import holiday_add
from tests.factories import Team
from tests.staff.field_scenes import WORKDAYS, area_of, campaign_of, generate, shown

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def test_the_days_of_an_area_become_outings_with_its_dogs_crews_and_method(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now, riders=3)
    made = generate(team, campaign, now)
    assert [(one.date, one.dogs_expected, one.puppies_expected) for one in made] == [
        (campaign.starts_on, 9, 2),
        (campaign.starts_on + DAY, 8, 1),
        (campaign.starts_on + 2 * DAY, 7, 1),
    ]
    assert {(one.area, one.method, one.riders, one.crews.count()) for one in made} == {
        ("Mill Lane", "house-to-house", 3, 2)
    }
    assert AuditEntry.objects.get(action="campaign.outings").detail == {"outings": 3}


def test_holidays_of_the_site_are_no_days_of_work(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now, days=2)
    holiday_add(actor=team.officer, site=team.site, day=campaign.starts_on, name="Harvest Day", now=now)
    assert [one.date for one in generate(team, campaign, now)] == [
        campaign.starts_on + DAY,
        campaign.starts_on + 2 * DAY,
    ]


def test_planned_again_nothing_is_added(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    generate(team, campaign, now)
    with pytest.raises(Conflict) as refused:
        generate(team, campaign, now)
    assert refused.value.code == "nothing-to-plan"
    assert Outing.objects.count() == 3


def test_a_plan_that_changed_since_it_was_shown_is_refused(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area = area_of(team, campaign, now)
    seen = shown(campaign, now).fingerprint
    area_change(actor=team.officer, area=area, changes={"adults": 21}, now=now)
    with pytest.raises(Conflict) as refused:
        generate(team, campaign, now, seen=seen)
    assert refused.value.code == "proposal-changed"
    assert not Outing.objects.exists()


def test_a_longer_area_adds_its_days_and_says_which_outings_differ(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area = area_of(team, campaign, now)
    generate(team, campaign, now)
    area_change(actor=team.officer, area=area, changes={"days": 4, "crews": 3}, now=now)
    plan = shown(campaign, now)
    assert [row.date for row in plan.new] == [campaign.starts_on + 3 * DAY]
    assert len(plan.differs) == 3
    assert (
        "Dogs: 9, by the plan 6." in plan.differs[0][1] and "Crews: 2, by the plan 3." in plan.differs[0][1]
    )
    generate(team, campaign, now)
    assert [one.dogs_expected for one in Outing.objects.order_by("date")] == [9, 8, 7, 6]


def test_days_that_are_over_are_left_out(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    later = now + 15 * DAY
    plan = shown(campaign, later)
    assert [row.state for row in plan.days] == [DayState.PAST, DayState.NEW, DayState.NEW]
    assert len(generate(team, campaign, later)) == 2


def test_what_was_cancelled_or_moved_away_is_planned_again_only_when_asked(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    first, second, _third = generate(team, campaign, now)
    outing_cancel(actor=team.officer, outing=first, reason="rain", now=now)
    outing_move(actor=team.officer, outing=second, date=campaign.starts_on + 7 * DAY, now=now)
    plan = shown(campaign, now)
    assert [row.state for row in plan.days] == [DayState.CANCELLED, DayState.MOVED, DayState.STANDS]
    assert [(one.pk, words.endswith("is no day of the plan.")) for one, words in plan.differs] == [
        (second.pk, True)
    ]
    assert [one.date for one in generate(team, campaign, now, again=True)] == [
        campaign.starts_on,
        campaign.starts_on + DAY,
    ]


def test_an_outing_cant_move_to_a_day_on_which_its_campaign_is_there_already(
    team: Team, now: datetime
) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    first, second, _third = generate(team, campaign, now)
    with pytest.raises(Conflict) as refused:
        outing_move(actor=team.officer, outing=first, date=second.date, now=now)
    assert refused.value.code == "campaign-outing-once"


def test_two_areas_share_a_day_and_an_area_taken_off_leaves_its_outings(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area = area_of(team, campaign, now, days=1)
    area_of(team, campaign, now, days=1, name="Quarry Row", adults=0, puppies=0)
    assert {(one.area, one.dogs_expected) for one in generate(team, campaign, now)} == {
        ("Mill Lane", 24),
        ("Quarry Row", 0),
    }
    area_remove(actor=team.officer, area=area, now=now)
    area_remove(actor=team.officer, area=area, now=now)
    assert [words for _one, words in shown(campaign, now).differs] == ["The plan has no area of this name."]
    assert Outing.objects.count() == 2
    assert AuditEntry.objects.filter(action="campaign-area.removed").count() == 1


def test_an_area_keeps_its_name_while_outings_go_by_it(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area = area_of(team, campaign, now, days=1)
    (outing,) = generate(team, campaign, now)
    with pytest.raises(Conflict) as refused:
        area_change(actor=team.officer, area=area, changes={"name": "Upper Mill Lane"}, now=now)
    assert refused.value.code == "area-has-outings"
    outing_cancel(actor=team.officer, outing=outing, reason="another name", now=now)
    area_change(actor=team.officer, area=area, changes={"name": "Upper Mill Lane"}, now=now)
    assert CampaignArea.objects.get().name == "Upper Mill Lane"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"name": "  "}, "name"),
        ({"days": 0}, "days"),
        ({"days": 61}, "days"),
        ({"crews": 13}, "crews"),
    ],
)
def test_an_area_that_cant_be_worked_is_refused(
    team: Team, now: datetime, changed: dict[str, object], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        area_of(team, campaign_of(team, now), now, **changed)
    assert set(refused.value.fields) == {field}


@pytest.mark.parametrize("days", [-1, 4 * 366])
def test_a_first_day_in_the_past_or_years_ahead_is_refused(team: Team, now: datetime, days: int) -> None:
    first = team.site.local_date(now) + days * DAY
    with pytest.raises(Invalid) as refused:
        area_of(team, campaign_of(team, now), now, first_on=first)
    assert set(refused.value.fields) == {"first_on"}


def test_a_name_stands_once_in_a_campaign_whatever_its_letters_size(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    with pytest.raises(Conflict) as refused:
        area_of(team, campaign, now, name=" mill lane ")
    assert refused.value.code == "area-name-taken"


def test_without_a_weekday_the_refusal_says_so(team: Team, now: datetime) -> None:
    campaign = campaign_of(team, now)
    area_of(team, campaign, now)
    with pytest.raises(Invalid, match="at least one day"):
        plan_of_days(campaign, weekdays=[], again=False, today=team.site.local_date(now))
    assert shown(campaign, now, weekdays=WORKDAYS).new
