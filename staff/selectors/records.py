"""From the rows of a person to the facts the rules work on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from staff.models import Clearance, ClearanceLetter, Dose, Person, Site
from staff.rules import values
from staff.rules.clearance import Clearance as ClearanceRule
from staff.rules.clearance import PersonFacts, evaluate_clearance
from staff.rules.dose_standing import DoseJudgement, judge_doses
from staff.selectors.regimens import post_exposure_rules, pre_exposure_rules


def with_record(people: QuerySet[Person]) -> QuerySet[Person]:
    """`people` with everything `facts_of` reads, in a constant number of queries."""
    return people.prefetch_related(
        Prefetch("doses", Dose.objects.select_related("regimen", "verification")),
        Prefetch("letters", ClearanceLetter.objects.select_related("document")),
        "titres",
        "briefings",
        "holds",
        "certificates",
        "crew_roles",
        Prefetch(
            "clearances", Clearance.objects.filter(superseded_on__isnull=True), to_attr="current_clearances"
        ),
    )


def facts_of(person: Person) -> PersonFacts:
    """What the rules are judged on; voided titres and letters are no facts, doses carry their own state."""
    return PersonFacts(
        doses=tuple(dose.as_fact() for dose in _doses_of(person)),
        titres=tuple(titre.as_fact() for titre in person.titres.all() if titre.voided_at is None),
        briefings=tuple(briefing.as_fact() for briefing in person.briefings.all()),
        holds=tuple(hold.as_fact() for hold in person.holds.all()),
        letters=tuple(letter.as_fact() for letter in _letters_of(person) if letter.voided_at is None),
        immunocompromised=person.immunocompromised,
        active_from=person.active_from,
        active_until=person.active_until,
    )


def _doses_of(person: Person) -> Iterable[Dose]:
    """Those `with_record` fetched, else read now with what a fact of theirs needs."""
    fetched = "doses" in getattr(person, "_prefetched_objects_cache", {})
    return person.doses.all() if fetched else person.doses.select_related("regimen", "verification")


def _letters_of(person: Person) -> Iterable[ClearanceLetter]:
    if not person.immunocompromised:
        return ()
    fetched = "letters" in getattr(person, "_prefetched_objects_cache", {})
    return person.letters.all() if fetched else person.letters.select_related("document")


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

    def judge_doses(self, person: Person) -> tuple[DoseJudgement, ...]:
        """What became of each dose, for the stored standings."""
        return judge_doses(
            facts=facts_of(person),
            rules=person.site.rules.for_clearance(),
            pre_exposure=self.pre_exposure[person.site_id],
            post_exposure=self.post_exposure,
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
