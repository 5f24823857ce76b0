"""A change of somebody's account, told at once to its owner and to the officers concerned.

Never to nobody but the person who made it: who opens a door for themself is seen by somebody else.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.rows import Told, by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, everybody_of, holders
from staff.models import AccountChange, Site, SiteRole, User
from staff.selectors.site.account_changes import addresses_since, officers_lost_since, sites_concerned

# A restored database doesn't write about last year.
FRESH = timedelta(days=7)
OWNER, OFFICER = "account", SiteRole.Role.OFFICER.value


def _subjects(now: datetime) -> Iterator[Told[AccountChange]]:
    told = Notice.objects.filter(account_change=OuterRef("pk"))
    untold = AccountChange.objects.filter(~Exists(told), at__gt=now - FRESH)
    for change in untold.select_related("account", "by", "site").order_by("at", "pk"):
        yield Told(change)


def _subject_of(notice: Notice) -> Told[AccountChange] | None:
    return None if notice.account_change is None else Told(notice.account_change, notice)


def _wanted(told: Told[AccountChange], now: datetime) -> dict[str, Notice]:
    """Once written it stands: that it was done stays so."""
    if told.row is not None:
        return {told.row.key: told.row}
    change, sites = told.subject, sites_concerned(told.subject)
    # Whose account belongs nowhere is written to by the clocks of the first site.
    home = sites[0] if sites else Site.objects.select_related("rules").order_by("pk").first()
    if home is None:
        return {}
    rows = {reader.email.casefold(): (home, OWNER, reader) for reader in _at(change.account, change.at)}
    for site in sites:
        for reader in _officers(site, change, now):
            rows.setdefault(reader.email.casefold(), (site, OFFICER, reader))
    if all(reader.user == change.by for _site, _who, reader in rows.values()):
        for reader in _others(sites, change):
            rows.setdefault(reader.email.casefold(), (home, OFFICER, reader))
    return by_key(_row(change, *row, now) for row in rows.values())


def _officers(site: Site, change: AccountChange, now: datetime) -> list[Recipient]:
    """As they are and as they were: whoever lost the role or had the address changed since hears of it too."""
    here = [reader.user for reader in holders(site, SiteRole.Role.OFFICER, now) if reader.user]
    alone = all(officer == change.account for officer in here)
    # A first role needs nobody's word at a site without officers: who was one until lately hears of it.
    officers = [*here, *officers_lost_since(site, change.at - FRESH if alone else change.at)]
    return [reader for officer in officers for reader in _at(officer, change.at)]


def _others(sites: list[Site], change: AccountChange) -> list[Recipient]:
    """Who else could notice: the other administrators, and whoever is left at the sites."""
    desk = User.objects.filter(is_superuser=True, is_active=True).order_by("pk")
    return [
        *(reader for user in desk for reader in _at(user, change.at)),
        *(reader for site in sites for reader in everybody_of(site)),
    ]


def _at(account: User, since: datetime) -> list[Recipient]:
    return [
        Recipient(address, account.language, user=account, zone=account.time_zone)
        for address in addresses_since(account, since)
    ]


def _row(change: AccountChange, site: Site, audience: str, reader: Recipient, now: datetime) -> Notice:
    return new_notice(
        key=f"account-{change.pk}:{reader.mark}",
        kind=ACCOUNT_CHANGE.name,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        hour=0,
        when_on=site.local_date(change.at),
        reference=reference(Letter.ACCOUNT, change.pk),
        path="/account/changes/",
        audience=audience,
        now=now,
        account_change=change,
    )


ACCOUNT_CHANGES = Origin(
    name="notices of changed accounts",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=None,
)
ACCOUNT_CHANGE = NoticeKind(
    name="account-change",
    word=_("an account was changed"),
    template="account_change",
    origin=ACCOUNT_CHANGES,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (ACCOUNT_CHANGE,)
