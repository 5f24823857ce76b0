"""Keeping the clinic list true."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import Conflict, Invalid
from safety.models import Clinic, Stock
from staff.models import Site, User
from staff.services.audit import audit_write


def clinic_add(
    *, actor: User, site: Site, name: str, phone: str, now: datetime, address: str = "", hours: str = ""
) -> Clinic:
    """Put a clinic on a site's list; what it has in stock is not known until somebody asks."""
    if not name.strip() or not phone.strip():
        raise Invalid({"name" if not name.strip() else "phone": _("A clinic needs a name and a telephone.")})
    try:
        with transaction.atomic():
            clinic = Clinic.objects.create(
                site=site, name=name.strip(), phone=phone.strip(), address=address, hours=hours
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
    hours: str | None = None,
    active: bool = True,
) -> Clinic:
    """Write down what the clinic said today: stock, and telephone and hours where they changed."""
    wrong = {
        name: _("Choose one of the answers.")
        for name, value in (("vaccine", vaccine), ("immunoglobulin", immunoglobulin))
        if value not in Stock.values
    }
    if wrong:
        raise Invalid(wrong)
    with transaction.atomic():
        locked = Clinic.objects.select_for_update(of=("self",)).select_related("site").get(pk=clinic.pk)
        old = {"vaccine": locked.vaccine, "immunoglobulin": locked.immunoglobulin}
        locked.vaccine, locked.immunoglobulin = vaccine, immunoglobulin
        locked.phone = phone.strip() or locked.phone
        locked.hours = locked.hours if hours is None else hours
        locked.active = active
        locked.confirmed_on, locked.confirmed_by = locked.site.local_date(now), actor
        locked.save()
        audit_write(
            actor=actor,
            action="clinic.confirmed",
            now=now,
            site=locked.site,
            target=f"clinic:{locked.pk}",
            old=old,
            new={"vaccine": vaccine, "immunoglobulin": immunoglobulin},
        )
    return locked
