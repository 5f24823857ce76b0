"""The clinic lists a reader may see, and those a reader keeps."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Case, IntegerField, QuerySet, Value, When

from safety.models import Clinic, Stock
from staff.models import Site, User
from staff.selectors.access import LIAISON, OFFICER, sites_as, sites_of


def clinics_visible_to(user: User) -> QuerySet[Clinic]:
    """Clinics in use at every site one belongs to: whoever is bitten needs the telephone."""
    return Clinic.objects.filter(site__in=sites_of(user), active=True).select_related(
        "site__rules", "confirmed_by"
    )


def clinics_kept_by(user: User) -> QuerySet[Clinic]:
    """As officer or liaison, with those that are out of use."""
    return Clinic.objects.filter(site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "site__rules", "confirmed_by"
    )


def clinics_of(site: Site) -> QuerySet[Clinic]:
    """Where a bitten person of `site` may go today: those known to have vaccine first."""
    return site.clinics.filter(active=True).order_by("-vaccine", "name")


def clinics_with_vaccine(site: Site) -> list[Clinic]:
    """What a printed card names; where none is known to have vaccine, all in use, for ringing is better than nothing."""
    rows = list(clinics_of(site))
    return [clinic for clinic in rows if clinic.vaccine == Stock.YES] or rows


def clinics_in_order(site: Site, order: Sequence[int]) -> QuerySet[Clinic]:
    """The clinics in use, as `order` (ids) has them; one that isn't in it comes last."""
    places = [When(pk=pk, then=Value(place)) for place, pk in enumerate(order)]
    by_order = Case(*places, default=Value(len(order)), output_field=IntegerField())
    return site.clinics.filter(active=True).order_by(by_order, "name")
