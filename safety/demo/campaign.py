"""A campaign five weeks ahead: who lacks a dose comes to sessions that are planned, the first of them today."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from safety.demo.programme import CLINICS
from staff.models import Campaign, Person, Regimen, Site, User
from staff.selectors.campaign.campaigns import propose
from staff.selectors.campaign.field_plan import field_plan
from staff.services.campaign.campaigns import campaign_create, fingerprint, sessions_plan
from staff.services.campaign.field_plan import area_add, outings_generate
from staff.services.site.site_rules import site_rules_change

SKIN_REGIMEN = "prep-id-0-7-21"
WEEKS = 5
# Name, days, adult dogs, puppies.
AREAS = (("Tannerigg", 3, 140, 15), ("Sorbenstow", 2, 75, 6))
WORKDAYS = range(5)


def let_routes_mix(site: Site, by: User, now: datetime) -> None:
    """Doses into the muscle count towards the series into the skin, so that nobody begins anew."""
    site_rules_change(
        actor=by,
        rules=site.rules,
        changes={"mixed_routes": True},
        reason="The authority accepts a change of route: Circular 7 (invented).",
        now=now,
    )


def make_campaign(site: Site, people: Sequence[Person], by: User, now: datetime) -> Campaign:
    """The campaign with its people and the sessions proposed for this day of each week, planned as proposed."""
    today = site.local_date(now)
    starts_on = today + timedelta(weeks=WEEKS)
    campaign = campaign_create(
        actor=by,
        site=site,
        name="Dry season round",
        starts_on=starts_on,
        regimen=Regimen.objects.get(code=SKIN_REGIMEN, version=1),
        route="ID",
        vial_ml=Decimal("1.0"),
        dose_ml=Decimal("0.1"),
        place=CLINICS[0],
        people=[one for one in people if one.active_until is None or one.active_until >= starts_on],
        now=now,
    )
    days = [today + timedelta(weeks=week) for week in range(WEEKS)]
    seen = fingerprint(propose(campaign, today=today, days=days).plan)
    sessions_plan(actor=by, campaign=campaign, days=days, people_at_most=None, seen=seen, now=now)
    _plan_field_work(campaign, by, now)
    return campaign


def _plan_field_work(campaign: Campaign, by: User, now: datetime) -> None:
    """Two areas, the first of them with its outings; the second is still to be planned."""
    for name, days, adults, puppies in AREAS:
        area_add(
            actor=by,
            campaign=campaign,
            name=name,
            first_on=campaign.starts_on,
            method="house-to-house",
            days=days,
            crews=2,
            adults=adults,
            puppies=puppies,
            now=now,
        )
        if name != AREAS[-1][0]:
            today = campaign.site.local_date(now)
            plan = field_plan(campaign, weekdays=WORKDAYS, again=False, today=today)
            outings_generate(actor=by, campaign=campaign, weekdays=WORKDAYS, seen=plan.fingerprint, now=now)
