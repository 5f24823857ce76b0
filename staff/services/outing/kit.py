"""Ticking a crew's kit: the last word about each item, by the clock of whoever ticked."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.ground.transactions import retried
from staff.models import Crew, KitTick, Outing, User
from staff.selectors.outing.kit import crew_lines, may_tick, packed_since
from staff.services.audit import audit_write
from staff.services.record.clearance import lock_outing


@retried
def kit_tick(
    *, actor: User, outing: Outing, crew: Crew, item: str, there: bool, ticked_at: datetime, now: datetime
) -> KitTick:
    """Keep whether the crew has the item, and return what stands: of two words about it the later one.

    `ticked_at` is the device's; a clock that runs ahead counts as `now`. Raises `NotAllowed` for who is neither on the
    outing nor its officer or lead, `Conflict` for an outing that is cancelled, was over when ticked or was moved since, `Invalid` for
    what isn't on the crew's list.
    """
    with transaction.atomic():
        outing = lock_outing(outing.pk)
        ticked_at = min(ticked_at, now)
        _check_actor(actor, outing)
        _check_time(outing, ticked_at)
        _check_item(outing, crew, item)
        standing = KitTick.objects.filter(crew=crew, item=item).first()
        if standing is not None and standing.ticked_at >= ticked_at:
            return standing
        said = {"there": there, "ticked_by": actor, "ticked_at": ticked_at}
        tick, _made = KitTick.objects.update_or_create(crew=crew, item=item, defaults=said)
        audit_write(
            actor=actor,
            action="kit.ticked",
            now=now,
            site=outing.site,
            target=f"outing:{outing.pk}",
            crew=crew.pk,
            item=item,
            there=there,
        )
    return tick


def _check_actor(actor: User, outing: Outing) -> None:
    if not may_tick(actor, outing):
        raise NotAllowed(
            _("Only the officer, a crew lead of the site or somebody on this outing ticks its kit.")
        )


def _check_time(outing: Outing, ticked_at: datetime) -> None:
    if outing.cancelled_at is not None:
        raise Conflict(
            _("This outing is cancelled; there is no kit to tick any more."), code="outing-cancelled"
        )
    if ticked_at < outing.created_at:
        # A clock that was reset would otherwise put a word before all others, where nobody ever sees it.
        raise Invalid(
            {"ticked_at": _("This tick is older than the outing: set the clock of the phone and tick again.")}
        )
    since = packed_since(outing)
    if since is not None and ticked_at <= since:
        raise Conflict(
            _(
                "The outing was moved after this was ticked: see whether it is there for the new date, and tick it again."
            ),
            code="outing-moved",
        )
    if outing.site.local_date(ticked_at) > outing.date:
        raise Conflict(_("This outing is over; its list stays as it was."), code="outing-over")


def _check_item(outing: Outing, crew: Crew, item: str) -> None:
    if crew.outing_id != outing.pk:
        raise Invalid({"crew": _("This crew is of another outing; choose one of this one.")})
    listed = [line.item.value for line in crew_lines(outing, outing.crews.count())]
    if item not in listed:
        raise Invalid(
            {"item": _("This isn't on the crew's list. On it are: %(items)s.") % {"items": ", ".join(listed)}}
        )
