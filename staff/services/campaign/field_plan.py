"""A campaign's areas, and the outings made from them."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import Crossed, retried
from staff.models import Campaign, CampaignArea, Outing, User
from staff.rules.regimen.values import RuleError
from staff.selectors.campaign.field_plan import AreaDay, FieldPlan, field_plan
from staff.services.audit import audit_write
from staff.services.outing.outings import outing_create

# Further ahead than this a date is a slip of the pen; common practice, no source.
YEARS_AHEAD = 3
# So many at once still answer within the patience of a browser; the rest is planned with a second press.
OUTINGS_AT_ONCE = 400

NO_DAYS: dict[str, str | Promise] = {
    "no-weekday": gettext_lazy("Choose at least one day of the week."),
    "only-holidays": gettext_lazy(
        "The site's holidays leave no day for a year; choose more days of the week."
    ),
}


@retried
def area_add(
    *,
    actor: User,
    campaign: Campaign,
    name: str,
    first_on: date,
    now: datetime,
    method: str,
    days: int = 1,
    crews: int = 1,
    adults: int = 0,
    puppies: int = 0,
    riders: int = 0,
) -> CampaignArea:
    """Add an area to a campaign; `adults` and `puppies` are those of all its days together.

    Raises `Invalid` naming fields, `Conflict` for a name the campaign has.
    """
    area = CampaignArea(campaign=campaign, name=name.strip(), first_on=first_on, method=method)
    area.days, area.crews, area.adults, area.puppies, area.riders = days, crews, adults, puppies, riders
    if first_on < campaign.site.local_date(now):
        raise Invalid({"first_on": _("Choose today or a later date.")})
    with transaction.atomic():
        _lock(campaign)
        _keep(area, now)
        _audit(actor, area, "campaign-area.added", now, **_said(area))
    return area


@retried
def area_change(*, actor: User, area: CampaignArea, changes: dict[str, Any], now: datetime) -> CampaignArea:
    """Change what is planned for an area. Outings that stand stay as they are.

    The name can't change while outings that stand go by it: the plan would make them a second time.
    """
    with transaction.atomic():
        _lock(area.campaign)
        held = CampaignArea.objects.select_related("campaign__site").get(pk=area.pk)
        before = _said(held)
        for field in before.keys() & changes.keys():
            setattr(held, field, changes[field])
        held.name = held.name.strip()
        if held.name != before["name"]:
            _need_unused(held, str(before["name"]), now)
        _keep(held, now)
        if _said(held) != before:
            _audit(actor, held, "campaign-area.changed", now, old=before, new=_said(held))
    return held


@retried
def area_remove(*, actor: User, area: CampaignArea, now: datetime) -> None:
    """Take an area off the plan; its outings stand. Taking it off twice changes nothing."""
    with transaction.atomic():
        _lock(area.campaign)
        held = CampaignArea.objects.select_related("campaign__site").filter(pk=area.pk).first()
        if held is not None:
            _audit(actor, held, "campaign-area.removed", now, **_said(held))
            held.delete()


@retried
def outings_generate(
    *,
    actor: User,
    campaign: Campaign,
    weekdays: Collection[int],
    seen: str,
    now: datetime,
    again: bool = False,
) -> list[Outing]:
    """Make the outings of the plan that don't stand yet, all of them or none; one that stands is never changed.

    `seen` is the fingerprint of the plan as it was shown; `Conflict` when it is another now, or when nothing is
    to be made. Two officers at once: the second is told that the plan has changed. Days before today are left out.
    """
    with transaction.atomic():
        _lock(campaign)
        plan = plan_of_days(campaign, weekdays=weekdays, again=again, today=campaign.site.local_date(now))
        if plan.fingerprint != seen:
            raise Conflict(
                _("The plan changed since it was shown; look at the new one."), code="proposal-changed"
            )
        if not plan.new:
            raise Conflict(_("Every outing of the plan stands already."), code="nothing-to-plan")
        if len(plan.new) > OUTINGS_AT_ONCE:
            words = _("More than %(number)d outings at once; give fewer days or areas.")
            raise Conflict(words % {"number": OUTINGS_AT_ONCE}, code="too-many-outings")
        made = [_outing(actor, campaign, day, now) for day in plan.new]
        audit_write(
            actor=actor,
            action="campaign.outings",
            now=now,
            site=campaign.site,
            target=f"campaign:{campaign.pk}",
            outings=len(made),
        )
    return made


def plan_of_days(campaign: Campaign, *, weekdays: Collection[int], again: bool, today: date) -> FieldPlan:
    """`field_plan`, refusing in words where no day is left."""
    try:
        return field_plan(campaign, weekdays=weekdays, again=again, today=today)
    except RuleError as wrong:
        raise Invalid({"weekdays": str(NO_DAYS.get(wrong.code, wrong.message))}) from wrong


def _outing(actor: User, campaign: Campaign, day: AreaDay, now: datetime) -> Outing:
    try:
        with transaction.atomic():
            return outing_create(
                actor=actor,
                site_id=campaign.site_id,
                date=day.date,
                area=day.area.name,
                method=day.area.method,
                dogs_expected=day.dogs,
                puppies_expected=day.puppies,
                riders=day.riders,
                crews=day.area.crews,
                campaign=campaign,
                now=now,
            )
    except IntegrityError as error:
        # An outing was moved to this day by somebody who takes no lock on the campaign: look again.
        raise Crossed from error


def _lock(campaign: Campaign) -> None:
    Campaign.objects.select_for_update(no_key=True).get(pk=campaign.pk)


def _keep(area: CampaignArea, now: datetime) -> None:
    campaign = area.campaign
    if not area.name:
        raise Invalid({"name": _("Give the area a name.")})
    if not 1 <= area.days <= 60:
        raise Invalid({"days": _("Plan 1 to 60 days.")})
    if not 1 <= area.crews <= 12:
        raise Invalid({"crews": _("Plan 1 to 12 crews.")})
    if area.first_on.year > campaign.site.local_date(now).year + YEARS_AHEAD:
        raise Invalid({"first_on": _("This lies years ahead; check the year.")})
    if campaign.areas.filter(name__iexact=area.name).exclude(pk=area.pk).exists():
        words = _("The campaign has an area of this name already.")
        raise Conflict(words, code="area-name-taken", fields={"name": words})
    area.save()


def _need_unused(area: CampaignArea, name: str, now: datetime) -> None:
    today = area.campaign.site.local_date(now)
    standing = area.campaign.outings.filter(area=name, cancelled_at__isnull=True, date__gte=today).count()
    if standing:
        words = ngettext(
            "%(number)d outing is planned under this name; cancel it first, or add another area.",
            "%(number)d outings are planned under this name; cancel them first, or add another area.",
            standing,
        ) % {"number": standing}
        raise Conflict(words, code="area-has-outings", fields={"name": words})


def _said(area: CampaignArea) -> dict[str, Any]:
    """What the plan says of an area, in JSON types but for the date."""
    fields = ("name", "method", "days", "crews", "adults", "puppies", "riders")
    return {name: getattr(area, name) for name in fields} | {"first_on": area.first_on}


def _audit(actor: User, area: CampaignArea, action: str, now: datetime, **detail: Any) -> None:
    audit_write(
        actor=actor,
        action=action,
        now=now,
        site=area.campaign.site,
        target=f"campaign:{area.campaign_id}",
        **_plain(detail),
    )


def _plain(detail: dict[str, Any]) -> dict[str, Any]:
    """Dates as text, at any depth."""
    return {
        name: _plain(value)
        if isinstance(value, dict)
        else value.isoformat()
        if isinstance(value, date)
        else value
        for name, value in detail.items()
    }
