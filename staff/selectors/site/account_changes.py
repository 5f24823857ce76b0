"""Whom a change of an account concerns, and who sees it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from staff.models import AccountChange, Person, Site, SiteRole, User
from staff.selectors.access import OFFICER, sites_as

Kind = AccountChange.Kind
_DESK = (Kind.ADMINISTRATOR, Kind.NO_ADMINISTRATOR)


def _concerning(sites: Iterable[Site]) -> Q:
    """Changes that concern one of `sites`: a role there, or an account that has a place there.

    An administrator without a place anywhere reaches every site, and so concerns each.
    """
    roles = SiteRole.objects.filter(user=OuterRef("account"))
    people = Person.objects.filter(user=OuterRef("account"))
    placed = Exists(roles.filter(site__in=sites)) | Exists(people.filter(site__in=sites))
    everywhere = (Q(kind__in=_DESK) | Q(account__is_superuser=True)) & ~Exists(roles) & ~Exists(people)
    return Q(site__in=sites) | (Q(site__isnull=True) & (Q(placed) | everywhere))


def sites_concerned(change: AccountChange) -> list[Site]:
    this = AccountChange.objects.filter(pk=change.pk)
    sites = Site.objects.select_related("rules").order_by("pk")
    return [site for site in sites if this.filter(_concerning([site])).exists()]


def account_changes_visible_to(user: User) -> QuerySet[AccountChange]:
    """Of the own account, by oneself, and those that concern one's sites as officer; an administrator sees all."""
    rows = AccountChange.objects.select_related("account", "by", "site")
    if user.is_superuser:
        return rows
    mine = Q(account=user) | Q(by=user)
    sites = list(sites_as(user, OFFICER))
    return rows.filter(mine | _concerning(sites)) if sites else rows.filter(mine)


def addresses_since(account: User, since: datetime) -> list[str]:
    """Where its owner can be reached: the address as it is, and those it had since then."""
    old = AccountChange.objects.filter(account=account, kind=Kind.EMAIL, at__gte=since)
    found = [account.email, *old.order_by("at").values_list("old_email", flat=True)]
    return list(dict.fromkeys(address for address in found if address))


def officers_lost_since(site: Site, since: datetime) -> list[User]:
    """Who was an officer of the site then and isn't any more: the role taken away, or the account closed."""
    taken = Q(kind=Kind.ROLE_TAKEN, role=OFFICER, site=site)
    closed = Q(kind=Kind.CLOSED, account__site_roles__site=site, account__site_roles__role=OFFICER)
    lost = AccountChange.objects.filter(taken | closed, at__gte=since)
    return list(User.objects.filter(pk__in=lost.values("account")).order_by("pk"))
