"""A campaign to plan for, made through the services."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from staff.models import Campaign, Person, Regimen, Session
from staff.selectors.campaign.campaigns import candidate_days, propose
from staff.services.campaign.campaigns import campaign_create, fingerprint, sessions_plan
from staff.services.campaign.session_notes import Note
from tests.factories import PRE_EXPOSURE, Team, approve, make_person

SKIN = "prep-id-0-7-21"


def make_campaign(
    team: Team, now: datetime, *, days_ahead: int, people: Iterable[Person], **changed: Any
) -> Campaign:
    """Into the muscle by the site's regimen, unless told otherwise."""
    wanted = {
        "name": "Spring round",
        "regimen": Regimen.objects.get(code=PRE_EXPOSURE, version=1),
        "route": "IM",
        "vial_ml": Decimal("1.0"),
        "dose_ml": Decimal("0.1"),
        "place": "Test Clinic",
        **changed,
    }
    starts_on = team.site.local_date(now) + timedelta(days=days_ahead)
    return campaign_create(
        actor=team.officer, site=team.site, starts_on=starts_on, people=people, now=now, **wanted
    )


def skin_campaign(team: Team, now: datetime, *, days_ahead: int, people: Iterable[Person]) -> Campaign:
    """Into the skin, ten injections a vial."""
    approve(team.site, team.officer, SKIN)
    regimen = Regimen.objects.get(code=SKIN, version=1)
    return make_campaign(team, now, days_ahead=days_ahead, people=people, regimen=regimen, route="ID")


def newcomers(team: Team, now: datetime, number: int) -> list[Person]:
    """People without a dose."""
    return [
        make_person(team.site, team.officer, now, number=f"N{each}", name=f"Newcomer {each:02}")
        for each in range(number)
    ]


def keep_proposal(team: Team, campaign: Campaign, now: datetime) -> list[Session]:
    """The sessions proposed when every day will do, kept."""
    today = campaign.site.local_date(now)
    days = candidate_days(campaign, today, range(7))
    seen = fingerprint(propose(campaign, today=today, days=days).plan)
    return sessions_plan(
        actor=team.officer, campaign=campaign, days=days, people_at_most=None, seen=seen, now=now
    )


def notes_of(session: Session, outcome: str, **said: Any) -> list[Note]:
    """The same word about everybody on the list."""
    places = session.places.order_by("person")
    return [Note(f"p{place.pk}", place.person_id, outcome, **said) for place in places]
