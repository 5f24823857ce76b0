"""Imports an officer may see, and the people a sheet is compared with."""

from __future__ import annotations

from django.db.models import Prefetch, QuerySet

from staff.models import Dose, ImportDraft, Person, Site, User
from staff.selectors.access import OFFICER, sites_as


def imports_visible_to(user: User) -> QuerySet[ImportDraft]:
    """Drafts and finished imports of the sites where `user` is the safety officer."""
    return ImportDraft.objects.filter(site__in=sites_as(user, OFFICER)).select_related(
        "site__rules", "uploaded_by"
    )


def people_by_number(site: Site) -> dict[str, Person]:
    """Everybody of a site with doses (voided ones too), briefings and crew roles, in a constant number of queries."""
    people = Person.objects.filter(site=site).prefetch_related(
        Prefetch("doses", Dose.everything.select_related("regimen"), to_attr="fetched_doses"),
        "briefings",
        "crew_roles",
    )
    return {person.number: person for person in people}
