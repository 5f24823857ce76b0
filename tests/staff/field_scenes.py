"""A campaign with areas to work in, made through the services."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from staff.models import Campaign, CampaignArea, Outing
from staff.selectors.campaign.field_plan import FieldPlan, field_plan
from staff.services.campaign.field_plan import area_add, outings_generate
from tests.factories import Team
from tests.staff.planning.scenes import make_campaign

WORKDAYS = range(5)


def campaign_of(team: Team, now: datetime) -> Campaign:
    """Its first day is the Monday in two weeks."""
    return make_campaign(team, now, days_ahead=14, people=[team.person])


def area_of(team: Team, campaign: Campaign, now: datetime, **changed: Any) -> CampaignArea:
    """Three days, 20 adults and 4 puppies."""
    wanted = {
        "name": "Mill Lane",
        "first_on": campaign.starts_on,
        "method": "house-to-house",
        "days": 3,
        "crews": 2,
        "adults": 20,
        "puppies": 4,
        **changed,
    }
    return area_add(actor=team.officer, campaign=campaign, now=now, **wanted)


def shown(
    campaign: Campaign, now: datetime, *, weekdays: Collection[int] = WORKDAYS, again: bool = False
) -> FieldPlan:
    return field_plan(campaign, weekdays=weekdays, again=again, today=campaign.site.local_date(now))


def generate(
    team: Team,
    campaign: Campaign,
    now: datetime,
    *,
    weekdays: Collection[int] = WORKDAYS,
    again: bool = False,
    seen: str = "",
) -> list[Outing]:
    """The outings of what is shown now, kept; with `seen` those of what was shown before."""
    plan = shown(campaign, now, weekdays=weekdays, again=again)
    return outings_generate(
        actor=team.officer,
        campaign=campaign,
        weekdays=weekdays,
        again=again,
        seen=seen or plan.fingerprint,
        now=now,
    )
