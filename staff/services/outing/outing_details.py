"""An outing's details: checked as they are planned, and changed while somebody can still go by them."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from datetime import date, datetime, time
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import Outing, OutingChange, Site, User
from staff.rules.outing.outing_details import DETAILS, OutingDetails, gone_by, is_left_out
from staff.services.audit import audit_write
from staff.services.record.clearance import lock_outing


def details_checked(details: OutingDetails, *, day: date, site: Site) -> OutingDetails:
    """`details` without blanks around words; raises `Invalid` naming every field that can't be."""
    said: dict[str, Any] = {
        name: value.strip() if isinstance(value, str) else value for name, value in vars(details).items()
    }
    wrong = {name: words for name, value in said.items() if (words := _fault(name, value))}
    found = replace(details, **said)
    if (found.meeting_latitude is None) != (found.meeting_longitude is None):
        empty = "meeting_latitude" if found.meeting_latitude is None else "meeting_longitude"
        wrong.setdefault(empty, _("A position has a latitude and a longitude: give both, or neither."))
    if found.start_time and is_left_out(day, found.start_time, site.zone):
        wrong["start_time"] = _(
            "The clocks leave this time out that day; give one before or after the change."
        )
    if wrong:
        raise Invalid(wrong)
    return found


def _fault(name: str, value: Any) -> str:
    """By the column's own limits; nothing is cut to fit."""
    if isinstance(value, float) and not math.isfinite(value):
        return _("Give degrees as a number.")
    try:
        Outing._meta.get_field(name).clean(value, None)  # type: ignore[union-attr]
    except ValidationError as fault:
        return " ".join(fault.messages)
    return ""


@retried
def outing_change(*, actor: User, outing: Outing, details: OutingDetails, now: datetime) -> Outing:
    """Change what crews are told of an outing; the same details again change nothing.

    Refused for a cancelled outing and for one that is over; once every crew has left, when and where they meet stays.
    The `OutingChange` it leaves says what people knew before.
    """
    with transaction.atomic():
        locked = lock_outing(outing.pk)
        _need_open(locked, locked.site.local_date(now))
        found, old = details_checked(details, day=locked.date, site=locked.site), locked.details
        if found == old:
            return locked
        if gone_by(found) != gone_by(old):
            _need_somebody_here(locked)
        OutingChange.objects.create(outing=locked, changed_by=actor, changed_at=now, **asdict(old))
        for name, value in asdict(found).items():
            setattr(locked, name, value)
        locked.save(update_fields=list(DETAILS))
        audit_write(
            actor=actor,
            action="outing.changed",
            now=now,
            site=locked.site,
            target=f"outing:{locked.pk}",
            old=_plain(old),
            new=_plain(found),
        )
    return locked


def _need_open(outing: Outing, today: date) -> None:
    if outing.cancelled_at is not None:
        raise Conflict(_("This outing is cancelled."), code="outing-cancelled")
    if outing.date < today:
        raise Conflict(_("This outing is over; what it says is history."), code="outing-over")


def _need_somebody_here(outing: Outing) -> None:
    left = list(outing.crews.values_list("left_at", flat=True))
    if left and all(left):
        words = _("Every crew of this outing has left; when and where they meet can't change any more.")
        raise Conflict(words, code="crew-left")


def _plain(details: OutingDetails) -> dict[str, Any]:
    return {
        name: value.isoformat() if isinstance(value, time) else value
        for name, value in asdict(details).items()
    }
