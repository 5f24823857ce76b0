"""Keeping the clinic list true."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict, Invalid
from safety.models import Clinic, Incident, Stock
from safety.notices.clinic.lacks import CHANGES, Change
from safety.notices.rows import Told
from safety.places.hours import read_hours
from safety.rules.clinic.clinic_choice import Position
from safety.services.notices.notices import notices_tell
from staff.models import Site, User
from staff.rules.regimen.values import RuleError
from staff.services.audit import audit_write

# What is wrong with hours, by the code the rule refuses them with.
HOURS_REFUSED: dict[str, str | Promise] = {
    "school-holidays": gettext_lazy(
        "School holidays (SH) aren't on the site's calendar: write the months instead."
    ),
    "sun": gettext_lazy("Write clock times in place of sunrise, sunset, dawn or dusk."),
    "open-end": gettext_lazy("Say when it closes: a time followed by + leaves that open."),
    "over-midnight": gettext_lazy(
        "Hours over midnight can't stand beside hours that end at 24:00; end those at 23:59."
    ),
    "holiday-form": gettext_lazy(
        "Give holidays (PH) a rule of their own, such as “PH off” or “PH 09:00-12:00”, or one list with days, such "
        "as “Su,PH off”."
    ),
    "syntax": gettext_lazy(
        "These hours can't be read. Write days as Mo Tu We Th Fr Sa Su and times as 08:00-17:00, with a semicolon "
        "between rules: Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off."
    ),
}


@dataclass(frozen=True)
class ClinicDetails:
    """Where a clinic is and when it is open; `hours` in the open syntax of safety.rules.clinic.opening, `language` of
    the letters to it (empty: the site's)."""

    address: str = ""
    hours: str = ""
    place: Position | None = None
    language: str = ""

    def as_columns(self) -> dict[str, object]:
        return {
            "address": self.address.strip(),
            "hours": self.hours.strip(),
            "latitude": self.place.latitude if self.place else None,
            "longitude": self.place.longitude if self.place else None,
            "language": self.language,
        }


def clinic_add(
    *,
    actor: User,
    site: Site,
    name: str,
    phone: str,
    now: datetime,
    details: ClinicDetails | None = None,
) -> Clinic:
    """Put a clinic on a site's list; what it has in stock is not known until somebody asks.

    Raises `Invalid` naming fields, `Conflict` for a name that is on the list.
    """
    if not name.strip() or not phone.strip():
        raise Invalid({"name" if not name.strip() else "phone": _("A clinic needs a name and a telephone.")})
    details = details or ClinicDetails()
    _check(details, hours_before="")
    try:
        with transaction.atomic():
            clinic = Clinic.objects.create(
                site=site,
                name=name.strip(),
                phone=phone.strip(),
                **details.as_columns(),
            )
            audit_write(actor=actor, action="clinic.added", now=now, site=site, target=f"clinic:{clinic.pk}")
    except IntegrityError as error:
        message = _("A clinic of this name is on the list already.")
        raise Conflict(message, code="clinic-on-list", fields={"name": message}) from error
    return clinic


def clinic_confirm(
    *,
    actor: User,
    clinic: Clinic,
    vaccine: str,
    immunoglobulin: str,
    now: datetime,
    phone: str = "",
    details: ClinicDetails | None = None,
    active: bool = True,
) -> Clinic:
    """Write down what the clinic said today: stock, and whatever else has changed; no `details` leave them alone.

    Hours that stood before they had to be readable may stay, so that stock can be confirmed meanwhile.
    """
    wrong = {
        name: _("Choose one of the answers.")
        for name, value in (("vaccine", vaccine), ("immunoglobulin", immunoglobulin))
        if value not in Stock.values
    }
    if wrong:
        raise Invalid(wrong)
    with transaction.atomic():
        locked = Clinic.objects.select_for_update(of=("self",)).select_related("site").get(pk=clinic.pk)
        changes: dict[str, object] = {"vaccine": vaccine, "immunoglobulin": immunoglobulin, "active": active}
        changes |= {"phone": phone.strip() or locked.phone}
        if details is not None:
            _check(details, hours_before=locked.hours)
            changes |= details.as_columns()
        _write(actor, locked, changes, now)
    return locked


def _write(actor: User, clinic: Clinic, changes: dict[str, object], now: datetime) -> None:
    told = {"vaccine", "immunoglobulin"} | {
        name for name, value in changes.items() if getattr(clinic, name) != value
    }
    old = {name: getattr(clinic, name) for name in sorted(told)}
    for name, value in changes.items():
        setattr(clinic, name, value)
    clinic.confirmed_on, clinic.confirmed_by = clinic.site.local_date(now), actor
    clinic.save()
    entry = audit_write(
        actor=actor,
        action="clinic.confirmed",
        now=now,
        site=clinic.site,
        target=f"clinic:{clinic.pk}",
        old=old,
        new={name: changes[name] for name in sorted(told)},
    )
    notices_tell(origin=CHANGES, subject=Told(Change(clinic, entry.pk, old)), now=now)


def _check(details: ClinicDetails, *, hours_before: str) -> None:
    """Raise `Invalid` for new hours nobody could reckon with, or a language no letter is written in."""
    if details.language and details.language not in settings.LETTER_LANGUAGES:
        raise Invalid({"language": _("Choose one of the languages letters are written in.")})
    hours = details.hours.strip()
    if hours in ("", hours_before):
        return
    try:
        read_hours(hours)
    except RuleError as wrong:
        raise Invalid({"hours": str(HOURS_REFUSED.get(wrong.code, HOURS_REFUSED["syntax"]))}) from wrong


def need_own_clinic(incident: Incident, clinic: Clinic) -> None:
    if clinic.site_id != incident.site_id:
        raise Invalid({"clinic": _("Choose a clinic of this site's list.")})
