"""Who is with a team by a date: everybody who asks whether somebody has left asks here."""

from __future__ import annotations

from datetime import date

from django.db.models import Q, QuerySet

from staff.models import Person, Site


def not_left(on: date) -> Q:
    """People whose last day, if they have one, isn't before `on`; those who join later are among them."""
    return Q(active_until__isnull=True) | Q(active_until__gte=on)


def team_of(site: Site, on: date) -> QuerySet[Person]:
    """Who is with the team on that date, or joins it later."""
    return site.people.filter(not_left(on))
