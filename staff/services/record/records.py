"""Writing the immunisation record. Entries are voided or ended with a reason, never edited or deleted."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.ground.dates import month_end
from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import DateKnown, Dose, Evidence, Person, Purpose, Regimen, User
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_refresh, lock_person
from staff.services.record.own_record import need_somebody_else
from staff.services.voiding import VoidRule, lock_record, refresh_record, void

# Before this no cell-culture rabies vaccine was in use anywhere; an earlier date is a slip of the pen.
EARLIEST_DATE = date(1970, 1, 1)


def check_past_date(field: str, value: date, today: date) -> None:
    """Refuse a date in the future of the site's calendar or one that must be a slip."""
    if value > today:
        raise Invalid(
            {
                field: _("%(date)s is in the future; record it on the day it happens.")
                % {"date": date_format(value)}
            }
        )
    if value < EARLIEST_DATE:
        raise Invalid({field: _("%(date)s can't be right; check the year.") % {"date": date_format(value)}})


class DoseDetails(TypedDict, total=False):
    """What a document says about a dose beside its date; `purpose` is pre-exposure unless told."""

    purpose: Purpose
    route: str
    injections: int | None
    product: str
    batch: str
    place: str
    evidence: str
    regimen: Regimen | None
    course_key: uuid.UUID | None


@retried
def dose_record(
    *,
    actor: User,
    person: Person,
    given_on: date,
    now: datetime,
    date_known: str = DateKnown.DAY,
    **details: Unpack[DoseDetails],
) -> Dose:
    """Add one dose and bring the clearance up to date.

    `given_on` is a date of the site's calendar, today or earlier; when only the month is known, any day of it:
    the month's last day is kept, and the month must be over. Raises `Invalid` for a date that can't be,
    `Conflict` when a dose stands on that date already, `NotAllowed` for an own dose with a document: its document is
    a second person's to check (`certificate_verify`).
    """
    with transaction.atomic():
        locked = lock_person(person.pk)
        given_on = _counted_day(given_on, date_known, locked.site.local_date(now))
        dose = _dose_keep(actor, locked, given_on, date_known, now, details)
        audit_write(
            actor=actor,
            action="dose.recorded",
            now=now,
            person=locked,
            target=f"dose:{dose.pk}",
            given_on=given_on.isoformat(),
            purpose=str(dose.purpose),
            date_known=str(date_known),
        )
        clearance_refresh(person=locked, now=now)
    return dose


def _dose_keep(
    actor: User, person: Person, given_on: date, date_known: str, now: datetime, details: DoseDetails
) -> Dose:
    """The row of a dose; refused when one stands on that day, by the database too."""
    told: DoseDetails = {"purpose": Purpose.PRE_EXPOSURE, "evidence": Evidence.CERTIFICATE}
    told.update(details)
    if told["evidence"] != Evidence.NONE:
        need_somebody_else(actor=actor, person=person, field="evidence")
    if person.doses.filter(given_on=given_on).exists():
        raise _already(given_on)
    try:
        with transaction.atomic():
            return Dose.objects.create(
                person=person,
                given_on=given_on,
                date_known=date_known,
                recorded_by=actor,
                recorded_at=now,
                recorded_on=person.site.local_date(now),
                **told,
            )
    except IntegrityError as error:
        raise _already(given_on) from error


def _counted_day(given_on: date, date_known: str, today: date) -> date:
    """The day from which the dose counts; refused when it can't be."""
    if date_known == DateKnown.MONTH:
        given_on = _last_of_past_month(given_on, today)
    check_past_date("given_on", given_on, today)
    return given_on


def _last_of_past_month(given_on: date, today: date) -> date:
    """The day from which a dose counts of which only the month is known; refused while the month lasts."""
    if month_end(given_on) > today:
        message = _(
            "A dose of which only the month is known counts from the month's last day, and this month isn't "
            "over. Find the exact date, or record it after %(date)s."
        )
        raise Invalid({"given_on": message % {"date": date_format(month_end(given_on))}})
    return month_end(given_on)


def _already(given_on: date) -> Conflict:
    message = _("A dose on %(date)s is on record already; void it first if it is wrong.") % {
        "date": date_format(given_on)
    }
    return Conflict(message, code="dose-on-record", fields={"given_on": message})


DOSE_VOID = VoidRule(
    model=Dose,
    action="dose.voided",
    twice=gettext_lazy("This dose is voided already."),
    lock=lock_record,
    about=lambda row: {
        "person": row.person,
        "target": f"dose:{row.pk}",
        "given_on": row.given_on.isoformat(),
    },
    follow=refresh_record,
)


def dose_void(*, actor: User, dose: Dose, reason: str, now: datetime) -> Dose:
    """Mark a dose as entered in error; refuses as `void` does."""
    return void(actor=actor, row=dose, reason=reason, now=now, rule=DOSE_VOID)
