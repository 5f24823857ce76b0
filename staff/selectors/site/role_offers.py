"""Roles that wait to be confirmed, and who may do it."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from staff.models import RoleOffer, Site, SiteRole, User
from staff.selectors.access import OFFICER, sites_as


def may_confirm(site: Site, *, giver: User | None, receiver: User) -> QuerySet[User]:
    """Officers of the site who neither gave nor get the role and can sign in."""
    officers = SiteRole.objects.filter(site=site, role=OFFICER).values("user")
    others = User.objects.filter(pk__in=officers, is_active=True).exclude(pk=receiver.pk)
    return others.exclude(pk=giver.pk) if giver else others


def offers_open_to(user: User) -> QuerySet[RoleOffer]:
    """What waits for `user` to confirm."""
    open_rows = RoleOffer.objects.filter(answered_at=None, site__in=sites_as(user, OFFICER))
    rows = open_rows.exclude(Q(user=user) | Q(given_by=user, given_by__isnull=False))
    return rows.select_related("user", "site", "given_by")
