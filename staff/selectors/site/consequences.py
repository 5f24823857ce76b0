"""Who a change of rules or approvals takes off which outing: asked by its preview and by the change itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from staff.models import Assignment, Person, Site
from staff.rules.record.clearance import Clearance as ClearanceRule
from staff.selectors.record.records import RegimenBook, with_facts


@dataclass(frozen=True)
class Loss:
    """A place on a coming outing that no longer rests on a clearance; `judged` says why not."""

    assignment: Assignment
    judged: ClearanceRule


def consequences(site: Site, book: RegimenBook, today: date) -> list[Loss]:
    """By the rules `site` carries, saved or not, and the regimens of `book`, over all coming outings; by date.

    Constant queries.
    """
    coming = Assignment.objects.filter(outing__site=site.pk, outing__date__gte=today)
    places = list(coming.select_related("outing", "crew").order_by("outing__date", "outing_id", "person_id"))
    keys = {place.person_id for place in places}
    people = {person.pk: person for person in with_facts(Person.objects.filter(pk__in=keys))}
    judged = {}
    for key, person in people.items():
        person.site = site
        judged[key] = book.judge(person)
    losses = []
    for place in places:
        place.person = people[place.person_id]
        if not judged[place.person_id].covers(place.outing.date):
            losses.append(Loss(place, judged[place.person_id]))
    return losses
