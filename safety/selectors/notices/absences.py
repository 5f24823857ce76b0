"""Who is away, who may say so, and where nobody stands in."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet

from safety.models import Absence
from staff.ground import roles
from staff.models import Site, SiteRole, User
from staff.selectors.access import OFFICER, sites_as

OFFICE = tuple(SiteRole.Role(role) for role in roles.OFFICE)


def absences_on(users: Iterable[User], on: date) -> dict[int, Absence]:
    """By the key of the account: who of `users` is away on `on`, a date of the site's calendar. One query."""
    standing = Absence.objects.filter(ended_at__isnull=True, first_day__lte=on, last_day__gte=on)
    return {absence.user_id: absence for absence in standing.filter(user__in=[user.pk for user in users])}


def office_of(sites: QuerySet[Site]) -> QuerySet[User]:
    """Active officers and liaisons of `sites`."""
    held = SiteRole.objects.filter(site__in=sites.order_by().values("pk"), role__in=OFFICE).values("user")
    return User.objects.filter(pk__in=held, is_active=True).order_by("first_name", "last_name", "username")


def users_kept_by(user: User) -> QuerySet[User]:
    """For whom `user` may enter an absence: oneself, and as officer the officers and liaisons of the site."""
    colleagues = office_of(sites_as(user, OFFICER)).values("pk")
    return User.objects.filter(Q(pk=user.pk) | Q(pk__in=colleagues)).order_by(
        "first_name", "last_name", "username"
    )


def deputies_for(user: User) -> QuerySet[User]:
    """Whom `user` may name as a deputy: officers and liaisons of the sites where `user` is one."""
    return office_of(sites_as(user, *OFFICE))


def absences_visible_to(user: User) -> QuerySet[Absence]:
    """Own ones, those one stands in for, and as officer those of the officers and liaisons of the site."""
    kept = users_kept_by(user).order_by().values("pk")
    return Absence.objects.filter(Q(user__in=kept) | Q(deputy=user)).select_related(
        "user", "deputy", "made_by", "ended_by"
    )


def absences_kept_by(user: User) -> QuerySet[Absence]:
    """Absences `user` may end: own ones, and as officer those of the officers and liaisons of the site."""
    return absences_visible_to(user).filter(user__in=users_kept_by(user).order_by().values("pk"))


def coming_absences(user: User, now: datetime) -> list[Absence]:
    """Visible ones that hold or are to come, soonest first."""
    # A day of slack: somewhere it is still yesterday by UTC.
    last = now.date() - timedelta(days=1)
    return list(absences_visible_to(user).filter(ended_at__isnull=True, last_day__gte=last))


def sites_without_deputy(absences: Iterable[Absence]) -> dict[int, list[Site]]:
    """By the key of the absence: sites of the absent person at which, on some day of it, nobody stands in.

    The deputy must be an officer or liaison there, can be written to and isn't away on any of the days. Three
    queries, whatever the number of absences.
    """
    rows = list(absences)
    people = {key for row in rows for key in (row.user_id, row.deputy_id) if key}
    held: dict[int, dict[int, Site]] = {}
    for role in SiteRole.objects.filter(user__in=people, role__in=OFFICE).select_related("site"):
        held.setdefault(role.user_id, {})[role.site_id] = role.site
    away: dict[int, list[Absence]] = {}
    for other in Absence.objects.filter(user__in=people, ended_at__isnull=True):
        away.setdefault(other.user_id, []).append(other)
    return {
        row.pk: [
            site
            for key, site in held.get(row.user_id, {}).items()
            if not (_reachable(row, away) and key in held.get(row.deputy_id or 0, {}))
        ]
        for row in rows
    }


def _reachable(absence: Absence, away: dict[int, list[Absence]]) -> bool:
    deputy = absence.deputy
    if deputy is None or not deputy.is_active or not deputy.email:
        return False
    return not any(
        other.first_day <= absence.last_day and other.last_day >= absence.first_day
        for other in away.get(deputy.pk, [])
    )
