"""The site's holidays: dates on which clinics keep their holiday hours."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.limits import within
from staff.models import Site, SiteHoliday, User
from staff.services.audit import audit_write

# Further ahead than this a date is a slip of the pen; common practice, no source.
YEARS_AHEAD = 3


def holiday_add(*, actor: User, site: Site, day: date, name: str, now: datetime) -> SiteHoliday:
    """Put a date on the site's calendar; raises `Conflict` when it is there already."""
    today = site.local_date(now)
    if not name.strip():
        raise Invalid({"name": _("Say which holiday it is.")})
    name = within(name, SiteHoliday, "name")
    if day < today or day.year > today.year + YEARS_AHEAD:
        raise Invalid(
            {"day": _("Give a date from today on and within the next three years; check the year.")}
        )
    try:
        with transaction.atomic():
            holiday = SiteHoliday.objects.create(site=site, date=day, name=name)
            audit_write(actor=actor, action="holiday.added", now=now, site=site, target=day.isoformat())
    except IntegrityError as error:
        message = _("This date is on the site's calendar already.")
        raise Conflict(message, code="holiday-listed", fields={"day": message}) from error
    return holiday


def holiday_remove(*, actor: User, holiday: SiteHoliday, now: datetime) -> None:
    """Take a date off the calendar; its audit row keeps what it was."""
    with transaction.atomic():
        audit_write(
            actor=actor,
            action="holiday.removed",
            now=now,
            site=holiday.site,
            target=holiday.date.isoformat(),
            name=holiday.name,
        )
        holiday.delete()
