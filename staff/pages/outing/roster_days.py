"""The days of a site that a roster page is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse

from staff.doors.page import signed_in
from staff.forms.outing.roster import RosterDaysForm
from staff.models import Site
from staff.selectors.access import Role, sites_as

USUAL_DAYS = 14


@dataclass(frozen=True)
class RosterDays:
    """The days of a site that are asked for."""

    site: Site
    first: date
    days: int

    @property
    def query(self) -> str:
        return roster_query(self.site, self.first, self.days)

    @property
    def grid(self) -> str:
        return f"{reverse('roster-grid')}?{self.query}"


def days_asked(request: HttpRequest, now: datetime) -> tuple[RosterDaysForm, RosterDays | None]:
    """The form, and what it asks for; without a question the two weeks from today at the first site."""
    sites = sites_as(signed_in(request), Role.OFFICER)
    own = sites.first()
    usual = {"site": own.pk, "first": own.local_date(now), "days": USUAL_DAYS} if own else {}
    form = RosterDaysForm(request.GET if "first" in request.GET else usual, sites=sites)
    return form, RosterDays(**form.cleaned_data) if form.is_valid() else None


def roster_query(site: Site, first: date, days: int) -> str:
    """The part of an address after the question mark that leads back to these days."""
    return urlencode({"site": site.pk, "first": first.isoformat(), "days": days})
