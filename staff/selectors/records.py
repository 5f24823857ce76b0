"""From the rows of a person to the facts the rules work on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from staff.models import Clearance, Dose, Person, Site
from staff.rules import values
from staff.rules.clearance import Clearance as ClearanceRule
from staff.rules.clearance import PersonFacts, evaluate_clearance
from staff.selectors.regimens import post_exposure_rules, pre_exposure_rules

# A course that is a complete series for somebody who had none before; boosters of the immunised are not.


def with_record(people: QuerySet[Person]) -> QuerySet[Person]:
    """`people` with everything `facts_of` reads, in a constant number of queries."""
    return people.prefetch_related(
        Prefetch("doses", Dose.objects.select_related("regimen")),
        "titres",
        "briefings",
        "holds",
        "crew_roles",
        Prefetch(
            "clearances", Clearance.objects.filter(superseded_on__isnull=True), to_attr="current_clearances"
        ),
    )


def facts_of(person: Person) -> PersonFacts:
    return PersonFacts(
        doses=tuple(dose.as_fact() for dose in person.doses.all()),
        titres=tuple(titre.as_fact() for titre in person.titres.all()),
        briefings=tuple(briefing.as_fact() for briefing in person.briefings.all()),
        holds=tuple(hold.as_fact() for hold in person.holds.all()),
        active_from=person.active_from,
        active_until=person.active_until,
    )


@dataclass(frozen=True)
class RegimenBook:
    """The regimens clearance is judged by, read once for many people."""

    post_exposure: Sequence[values.Regimen]
    pre_exposure: dict[int, Sequence[values.Regimen]]

    @classmethod
    def for_sites(cls, sites: Iterable[Site]) -> RegimenBook:
        return cls(
            post_exposure=post_exposure_rules(),
            pre_exposure={site.pk: pre_exposure_rules(site) for site in sites},
        )

    def judge(self, person: Person) -> ClearanceRule:
        return evaluate_clearance(
            facts=facts_of(person),
            rules=person.site.rules.for_clearance(),
            pre_exposure=self.pre_exposure[person.site_id],
            post_exposure=self.post_exposure,
        )


def clearance_of(person: Person) -> ClearanceRule:
    """What the record of one person says, computed now."""
    return RegimenBook.for_sites([person.site]).judge(person)
