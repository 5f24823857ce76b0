"""That owners and neighbours were told of an outing: who, when and how."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.ground.errors import Conflict, Invalid
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import CommunityNotice, Outing, User
from staff.selectors.campaign.community import last_move
from staff.services.audit import audit_write
from staff.services.voiding import VoidRule, void

# Told longer ahead, the year is wrong; common practice, no source.
LONGEST_AHEAD = timedelta(days=90)


def community_told_record(
    *, actor: User, outing: Outing, told_on: date, who: str, how: str, now: datetime, new_date: bool = False
) -> CommunityNotice:
    """The same as `community_told_together` for one outing."""
    said = community_told_together(
        actor=actor, outings=[outing], told_on=told_on, who=who, how=how, now=now, new_date=new_date
    )
    return said[0]


@retried
def community_told_together(
    *,
    actor: User,
    outings: Sequence[Outing],
    told_on: date,
    who: str,
    how: str,
    now: datetime,
    new_date: bool = False,
) -> list[CommunityNotice]:
    """Record for each of `outings` that people were told of it on `told_on` (site's date): all of them or none.

    Told late is recorded too and shown as late. The same word sent again adds nothing. `new_date`: somebody says that
    it was the date after the move, which is asked where people were told on the day of a move; a day has no hour.
    Raises `Invalid` for a date that can't be, `Conflict` for an outing that is cancelled.
    """
    if not outings:
        raise Invalid({"outings": _("Choose at least one outing.")})
    who, how = _said("who", who), _said("how", how)
    with transaction.atomic():
        # The lock keeps the date where it is while it is compared, and a second officer's same word out.
        rows = Outing.objects.select_for_update(of=("self",), no_key=True).select_related("site")
        locked = rows.filter(pk__in=[outing.pk for outing in outings]).prefetch_related("moves")
        found = list(locked.order_by("pk"))
        for row in found:
            _check(row, told_on, row.site.local_date(now), new_date)
        return [_record(actor, row, told_on, who, how, now) for row in found]


def _said(field: str, words: str) -> str:
    if not words.strip():
        raise Invalid({field: _("Say who was told.") if field == "who" else _("Say how they were told.")})
    return within(words, CommunityNotice, field)


def _record(actor: User, outing: Outing, told_on: date, who: str, how: str, now: datetime) -> CommunityNotice:
    moved = last_move(outing)
    same = outing.community_notices.filter(told_on=told_on, who=who, how=how)
    if moved is not None:
        same = same.filter(recorded_at__gt=moved.moved_at)
    if (stands := same.first()) is not None:
        return stands
    row = CommunityNotice.objects.create(
        outing=outing, told_on=told_on, who=who, how=how, recorded_by=actor, recorded_at=now
    )
    audit_write(
        actor=actor,
        action="community.told",
        now=now,
        site=outing.site,
        target=f"outing:{outing.pk}",
        told_on=told_on.isoformat(),
    )
    return row


def _check(outing: Outing, told_on: date, today: date, new_date: bool) -> None:
    name, day = str(outing.area), date_format(outing.date)
    if outing.cancelled_at is not None:
        raise Conflict(
            _("The outing to %(area)s on %(day)s is cancelled.") % {"area": name, "day": day},
            code="outing-cancelled",
        )
    if told_on > today:
        raise Invalid({"told_on": _("This day lies ahead; record it once they are told.")})
    if told_on > outing.date:
        words = _("The outing to %(area)s was on %(day)s; give that day or an earlier one.")
        raise Invalid({"told_on": words % {"area": name, "day": day}})
    if told_on < outing.date - LONGEST_AHEAD:
        words = _("That is more than %(days)d days before the outing to %(area)s; check the year.")
        raise Invalid({"told_on": words % {"days": LONGEST_AHEAD.days, "area": name}})
    if (moved := last_move(outing)) is not None:
        _check_moved(outing, told_on, outing.site.local_date(moved.moved_at), new_date)


def _check_moved(outing: Outing, told_on: date, moved_on: date, new_date: bool) -> None:
    """Whoever was told before a move knows the wrong date, and on its own day nobody can tell before from after."""
    about = {"area": outing.area, "day": date_format(moved_on), "new": date_format(outing.date)}
    if told_on < moved_on:
        words = _("The outing to %(area)s was moved on %(day)s: tell them the new date, then record it.")
        raise Invalid({"told_on": words % about})
    if told_on == moved_on and not new_date:
        words = _(
            "The outing to %(area)s was moved that same day, to %(new)s. Tick this only if that is the date they "
            "were told; else tell them first."
        )
        raise Invalid({"new_date": words % about})


COMMUNITY_VOID = VoidRule(
    model=CommunityNotice,
    action="community.voided",
    twice=gettext_lazy("This word to the community is voided already."),
    # The board reads what stands when it is looked at: nothing else is locked, and nothing follows.
    lock=lambda _act: None,
    about=lambda row: {"site": row.outing.site, "target": f"outing:{row.outing_id}"},
    follow=lambda _act, _locked: None,
)


def community_told_void(*, actor: User, told: CommunityNotice, reason: str, now: datetime) -> None:
    """Take back a word that was recorded in error; it stays readable with the reason. Refuses as `void` does."""
    void(actor=actor, row=told, reason=reason, now=now, rule=COMMUNITY_VOID)
