"""A clinic that was marked out of use or out of stock, told to who is about to send people out.

Told are the officers of the site and the leads on its outings of today and the next three days, once a change, and
nobody when no outing is that near. It counts for every clinic of the site's list: which one would be the first
choice depends on where and when somebody is bitten.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from safety.models import Clinic, Notice, Stock
from safety.selectors.recipients import Recipient, holders, member
from safety.services.notice_rows import add_notices, new_notice
from staff.bell import ring
from staff.models import CrewRole, Outing, SiteRole
from staff.selectors.on_crews import people_on

CLINIC_LACKS = "clinic-lacks"
NEAR = timedelta(days=3)
STOCKS = ("vaccine", "immunoglobulin")


def clinic_notices_add(*, clinic: Clinic, before: Mapping[str, object], change: int, now: datetime) -> None:
    """Write who is to be told of this change and ring for a worker; call it in the transaction of the change.

    `before` holds what each changed column was; `change` tells this change of the clinic from every other.
    """
    if not _got_worse(clinic, before):
        return
    readers = _readers(clinic, now)
    add_notices([_row(clinic, change, reader, now) for reader in readers.values()])
    if readers:
        ring("safety.tick")


def clinic_notice_still_true(notice: Notice) -> bool:
    """It may be in use and stocked again, or off the list."""
    clinic = Clinic.objects.filter(pk=notice.reference.removeprefix("L")).first()
    return clinic is not None and _lacks(clinic)


def _lacks(clinic: Clinic) -> bool:
    return not clinic.active or any(getattr(clinic, name) == Stock.NO for name in STOCKS)


def _got_worse(clinic: Clinic, before: Mapping[str, object]) -> bool:
    closed = not clinic.active and before.get("active") is True
    # What is no longer in use tells nobody about its stock.
    emptied = any(
        getattr(clinic, name) == Stock.NO and before.get(name, Stock.NO) != Stock.NO for name in STOCKS
    )
    return closed or (clinic.active and emptied)


def _readers(clinic: Clinic, now: datetime) -> dict[str, Recipient]:
    """By address, so that an officer who leads a crew is written to once."""
    today = clinic.site.local_date(now)
    near = Outing.objects.filter(
        site=clinic.site_id, cancelled_at__isnull=True, date__gte=today, date__lte=today + NEAR
    )
    if not near.exists():
        return {}
    leads = people_on(outing__in=near, role=CrewRole.LEAD)
    found = holders(clinic.site, SiteRole.Role.OFFICER, now)
    found += [reader for lead in leads.select_related("user") for reader in member(lead)]
    return {reader.email.casefold(): reader for reader in reversed(found)}


def _row(clinic: Clinic, change: int, reader: Recipient, now: datetime) -> Notice:
    today = clinic.site.local_date(now)
    return new_notice(
        key=f"clinic-{clinic.pk}:{change}:{reader.tag}",
        kind=CLINIC_LACKS,
        site=clinic.site,
        reader=reader,
        send_on=today,
        hour=0,
        when_on=today,
        reference=f"L{clinic.pk}",
        path="/clinics/",
        audience="roster",
        now=now,
    )
