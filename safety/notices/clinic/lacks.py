"""A clinic that was marked out of use or out of stock, told to who is about to send people out.

Told are the officers of the site and the leads on its outings of today and the next three days, once a change, and
nobody when no outing is that near. It counts for every clinic of the site's list: which one would be the first
choice depends on where and when somebody is bitten.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from safety.models import Clinic, Notice, Stock
from safety.notices.rows import Told, by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, holders, member
from staff.models import CrewRole, Outing, SiteRole
from staff.selectors.outing.on_crews import people_on

NEAR = timedelta(days=3)
STOCKS = ("vaccine", "immunoglobulin")


@dataclass(frozen=True)
class Change:
    """A change of a clinic, what tells it from every other one, and what each changed column was before."""

    clinic: Clinic
    number: int
    before: Mapping[str, object]

    @property
    def got_worse(self) -> bool:
        clinic = self.clinic
        closed = not clinic.active and self.before.get("active") is True
        # What is no longer in use tells nobody about its stock.
        emptied = any(
            getattr(clinic, name) == Stock.NO and self.before.get(name, Stock.NO) != Stock.NO
            for name in STOCKS
        )
        return closed or (clinic.active and emptied)


def _subjects(_now: datetime) -> tuple[Told[Change | Clinic], ...]:
    """None: what is told of a change is written in its own transaction (safety.services.clinic.clinics)."""
    return ()


def _subject_of(notice: Notice) -> Told[Change | Clinic] | None:
    return None if notice.clinic is None else Told(notice.clinic, notice)


def _wanted(told: Told[Change | Clinic], now: datetime) -> dict[str, Notice]:
    """What was written stands while the clinic is out of use or something is out of stock."""
    about = told.subject
    if isinstance(about, Change):
        readers = _readers(about.clinic, now) if about.got_worse else {}
        return by_key(_row(about, reader, now) for reader in readers.values())
    return {told.row.key: told.row} if told.row is not None and _lacks(about) else {}


def _lacks(clinic: Clinic) -> bool:
    return not clinic.active or any(getattr(clinic, name) == Stock.NO for name in STOCKS)


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


def _row(change: Change, reader: Recipient, now: datetime) -> Notice:
    clinic = change.clinic
    today = clinic.site.local_date(now)
    return new_notice(
        key=f"clinic-{clinic.pk}:{change.number}:{reader.tag}",
        kind=CLINIC_LACKS.name,
        site=clinic.site,
        reader=reader,
        send_on=today,
        hour=0,
        when_on=today,
        reference=reference(Letter.CLINIC, clinic.pk),
        path="/clinics/",
        audience="roster",
        now=now,
        clinic=clinic,
    )


CHANGES = Origin(
    name="notices of what clinics lack",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=None,
)
CLINIC_LACKS = NoticeKind(
    name="clinic-lacks",
    word=_("a clinic is closed or out of stock before an outing"),
    template="clinic_lacks",
    origin=CHANGES,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (CLINIC_LACKS,)
