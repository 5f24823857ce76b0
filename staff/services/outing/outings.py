"""Outings: planned, moved to another date with whoever is clear there, cancelled."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.limits import fitting, within
from staff.ground.transactions import Crossed, retried
from staff.models import (
    Assignment,
    Campaign,
    Crew,
    Outing,
    OutingMove,
    Site,
    User,
    Withdrawal,
)
from staff.rules.outing.outing_details import OutingDetails
from staff.selectors.outing.on_crews import people_on
from staff.selectors.record.readiness import clear_dates
from staff.services.audit import audit_write
from staff.services.outing.crews import check_may_cancel, check_may_move
from staff.services.outing.outing_details import details_checked
from staff.services.outing.refusals import (
    booked_words,
    check_outing_date,
    elsewhere_on,
)
from staff.services.record.clearance import (
    clearance_catch_up,
    lock_outing,
    lock_people,
    need_reason,
    withdraw,
)


def _lock_outing_with_people(outing_id: int, now: datetime) -> Outing:
    people = lock_people(people_on(outing=outing_id))
    for person in people:
        clearance_catch_up(person=person, now=now)
    outing = lock_outing(outing_id)
    if outing.assignments.exclude(person__in=people).exists():
        # Somebody was put on it between the two locks; locking that person now would break the order.
        raise Crossed
    return outing


def outing_create(
    *,
    actor: User,
    site_id: int,
    date: date,
    area: str,
    method: str,
    now: datetime,
    dogs_expected: int = 0,
    puppies_expected: int = 0,
    riders: int = 0,
    crews: int = 1,
    campaign: Campaign | None = None,
    details: OutingDetails = OutingDetails(),  # noqa: B008  # frozen
) -> Outing:
    """Plan an outing with `crews` empty crews (1 to 12), today by the site's calendar or later."""
    if not 1 <= crews <= 12:
        raise Invalid({"crews": _("Plan 1 to 12 crews.")})
    if puppies_expected > dogs_expected:
        raise Invalid({"puppies_expected": _("The puppies are counted among the dogs expected.")})
    site = Site.objects.get(pk=site_id)
    check_outing_date(date, site.local_date(now))
    checked = details_checked(details, day=date, site=site)
    with transaction.atomic():
        outing = Outing.objects.create(
            site_id=site_id,
            date=date,
            area=area,
            method=method,
            dogs_expected=dogs_expected,
            puppies_expected=puppies_expected,
            riders=riders,
            campaign=campaign,
            created_by=actor,
            created_at=now,
            **asdict(checked),
        )
        Crew.objects.bulk_create(
            Crew(outing=outing, name=_("Crew %(number)s") % {"number": number})
            for number in range(1, crews + 1)
        )
        audit_write(
            actor=actor, action="outing.planned", now=now, site=outing.site, target=f"outing:{outing.pk}"
        )
    return outing


@retried
def outing_move(
    *, actor: User, outing: Outing, date: date, now: datetime, reason: str = ""
) -> list[Withdrawal]:
    """Move an outing to another date; who isn't clear on it is withdrawn. Returns those withdrawals.

    The `OutingMove` it leaves is what tells the people on it, and that the community knows only the old date.
    """
    today, reason = outing.site.local_date(now), within(reason, OutingMove, "reason")
    check_outing_date(date, today)
    with transaction.atomic():
        locked = _lock_outing_with_people(outing.pk, now)
        _need_ahead(locked, today)
        check_may_move(locked)
        old = locked.date
        _need_free(locked, date)
        withdrawn = _move(locked, date, now)
        if date != old:
            OutingMove.objects.create(
                outing=locked,
                old_date=old,
                new_date=date,
                reason=reason,
                moved_by=actor,
                moved_at=now,
            )
        audit_write(
            actor=actor,
            action="outing.moved",
            now=now,
            site=locked.site,
            target=f"outing:{locked.pk}",
            old=old.isoformat(),
            new=date.isoformat(),
        )
    outing.date = date
    return withdrawn


def _need_ahead(outing: Outing, today: date) -> None:
    if outing.cancelled_at is not None:
        raise Conflict(_("This outing is cancelled."), code="outing-cancelled")
    if outing.date < today:
        raise Conflict(_("This outing is over; its date is history."), code="outing-over")


def _need_free(outing: Outing, date: date) -> None:
    """A campaign has one outing to an area on a date."""
    others = Outing.objects.filter(campaign=outing.campaign_id, date=date, area=outing.area)
    if outing.campaign_id and others.filter(cancelled_at__isnull=True).exclude(pk=outing.pk).exists():
        words = _("The campaign has an outing to %(area)s on that day already.") % {"area": outing.area}
        raise Conflict(words, code="campaign-outing-once", fields={"date": words})


def _move(outing: Outing, date: date, now: datetime) -> list[Withdrawal]:
    try:
        with transaction.atomic():
            kept, withdrawn = _part(outing, date, now)
            outing.date = date
            outing.save(update_fields=["date"])
            Assignment.objects.bulk_create(kept)
    except IntegrityError as error:
        # The guards saw a clearance change that took no lock on the person: look again.
        raise Crossed from error
    return withdrawn


def _part(outing: Outing, date: date, now: datetime) -> tuple[list[Assignment], list[Withdrawal]]:
    """Take off who is elsewhere on the new date and whoever's clearance doesn't reach it; give back those another covers."""
    again, withdrawn = [], []
    people = people_on(outing=outing)
    clear = {dates.person.pk: dates for dates in clear_dates(people, [outing.site])}
    for assignment in outing.assignments.select_related("clearance", "person__site__rules", "crew", "outing"):
        if other := elsewhere_on(assignment.person, outing, date):
            reason = booked_words(assignment.person, other)
            withdrawn.append(withdraw(assignment, reason=fitting(reason, Withdrawal, "reason"), now=now))
            continue
        cover = clear[assignment.person_id].cover_on(date)
        if cover is not None and cover == assignment.clearance:
            continue
        if cover is None:
            reason = " ".join(clear[assignment.person_id].on(date).words)
            withdrawn.append(withdraw(assignment, reason=fitting(reason, Withdrawal, "reason"), now=now))
        else:
            # Neither clearance reaches both dates: the same row stands again once the outing has its new one.
            key = assignment.pk
            assignment.delete()
            assignment.pk, assignment.clearance = key, cover
            again.append(assignment)
    return again, withdrawn


@retried
def outing_cancel(*, actor: User, outing: Outing, reason: str, now: datetime) -> None:
    """Cancel with a reason; everybody is withdrawn and told."""
    reason = within(need_reason(reason), Withdrawal, "reason")
    with transaction.atomic():
        locked = _lock_outing_with_people(outing.pk, now)
        if locked.cancelled_at is not None:
            raise Conflict(_("This outing is cancelled already."), code="outing-cancelled")
        if locked.date < locked.site.local_date(now):
            raise Conflict(_("This outing is over; its roster is history."), code="outing-over")
        check_may_cancel(locked)
        for assignment in locked.assignments.select_related("crew", "person", "outing"):
            withdraw(assignment, reason=reason, now=now)
        locked.cancelled_at, locked.cancel_reason = now, reason
        locked.save(update_fields=["cancelled_at", "cancel_reason"])
        audit_write(
            actor=actor,
            action="outing.cancelled",
            now=now,
            site=locked.site,
            target=f"outing:{locked.pk}",
            reason=reason,
        )
