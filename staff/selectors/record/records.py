"""From the rows of a person to the facts the rules work on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Prefetch, QuerySet

from staff.ground.purposes import COURSES
from staff.models import Clearance, ClearanceLetter, Dose, Person, Site, Titre
from staff.rules.record.clearance import Clearance as ClearanceRule
from staff.rules.record.clearance import PersonFacts, evaluate_clearance
from staff.rules.record.dose_standing import DoseJudgement, judge_doses
from staff.rules.regimen import values
from staff.selectors.regimen.regimens import post_exposure_rules, pre_exposure_rules


def _doses() -> QuerySet[Dose]:
    """Every dose, for each is judged and says itself that it is voided, with what a fact of it needs beside the row."""
    return Dose.everything.select_related("regimen", "verification")


def _letters() -> QuerySet[ClearanceLetter]:
    return ClearanceLetter.everything.select_related("document")


def with_facts(people: QuerySet[Person]) -> QuerySet[Person]:
    """`people` with everything a recompute reads, in a constant number of queries and as plain lists: the query
    that each related manager else keeps for each person is a good part of a recompute."""
    return people.prefetch_related(
        Prefetch("doses", _doses(), to_attr="fetched_doses"),
        Prefetch("letters", _letters(), to_attr="fetched_letters"),
        *(
            Prefetch(name, to_attr=f"fetched_{name}")
            for name in ("titres", "briefings", "holds", "dues", "dose_standings")
        ),
    )


def with_record(people: QuerySet[Person]) -> QuerySet[Person]:
    """`people` with everything `facts_of` reads and a page shows, voided entries too, in a constant number of queries."""
    return people.prefetch_related(
        Prefetch("doses", _doses(), to_attr="fetched_doses"),
        Prefetch("letters", _letters(), to_attr="fetched_letters"),
        Prefetch("titres", Titre.everything.all(), to_attr="fetched_titres"),
        "briefings",
        "holds",
        "certificates",
        "crew_roles",
        Prefetch(
            "clearances", Clearance.objects.filter(superseded_on__isnull=True), to_attr="current_clearances"
        ),
    )


def facts_of(person: Person) -> PersonFacts:
    """What the rules are judged on. Voided titres and letters and unproven titres are no facts; doses carry their
    own state."""
    return PersonFacts(
        doses=tuple(dose.as_fact() for dose in every_dose_of(person)),
        titres=tuple(titre.as_fact() for titre in rows_of(person, "titres") if titre.counts),
        briefings=tuple(briefing.as_fact() for briefing in rows_of(person, "briefings")),
        holds=tuple(hold.as_fact() for hold in rows_of(person, "holds")),
        letters=tuple(letter.as_fact() for letter in _letters_of(person) if letter.voided_at is None),
        immunocompromised=person.immunocompromised,
        active_from=person.active_from,
        active_until=person.active_until,
    )


def fetched_of(person: Person, name: str) -> Iterable[Any] | None:
    """The rows of a relation that `with_facts` or `with_record` fetched with the person, None without."""
    fetched: Iterable[Any] | None = getattr(person, f"fetched_{name}", None)
    if fetched is None:
        fetched = getattr(person, "_prefetched_objects_cache", {}).get(name)
    return fetched


def rows_of(person: Person, name: str) -> Iterable[Any]:
    """The rows of a relation, read now if they weren't fetched with the person. Voided ones may be among them only
    where they were fetched."""
    fetched = fetched_of(person, name)
    return getattr(person, name).all() if fetched is None else fetched


def every_dose_of(person: Person) -> Iterable[Dose]:
    """The doses of the record, voided ones too: those fetched with the person, else read now."""
    fetched = fetched_of(person, "doses")
    return _doses().filter(person=person) if fetched is None else fetched


def _letters_of(person: Person) -> Iterable[ClearanceLetter]:
    if not person.immunocompromised:
        return ()
    fetched = fetched_of(person, "letters")
    return _letters().filter(person=person) if fetched is None else fetched


@dataclass(frozen=True)
class RegimenBook:
    """The regimens clearance is judged by, read once for many people."""

    pre_exposure: dict[int, Sequence[values.Regimen]]

    @classmethod
    def for_sites(cls, sites: Iterable[Site]) -> RegimenBook:
        return cls(pre_exposure={site.pk: pre_exposure_rules(site) for site in sites})

    @cached_property
    def post_exposure(self) -> Sequence[values.Regimen]:
        """Read when somebody with a course comes: few people have one."""
        return post_exposure_rules()

    def _of_courses(self, facts: PersonFacts) -> Sequence[values.Regimen]:
        return self.post_exposure if any(dose.purpose in COURSES for dose in facts.doses) else ()

    def judge_doses(self, person: Person, facts: PersonFacts | None = None) -> tuple[DoseJudgement, ...]:
        """What became of each dose, for the stored standings. `facts` where they are read already."""
        facts = facts or facts_of(person)
        return judge_doses(
            facts=facts,
            rules=person.site.rules.for_clearance(),
            pre_exposure=self.pre_exposure[person.site_id],
            post_exposure=self._of_courses(facts),
        )

    def judge(self, person: Person, facts: PersonFacts | None = None) -> ClearanceRule:
        facts = facts or facts_of(person)
        return evaluate_clearance(
            facts=facts,
            rules=person.site.rules.for_clearance(),
            pre_exposure=self.pre_exposure[person.site_id],
            post_exposure=self._of_courses(facts),
        )


def clearance_of(person: Person) -> ClearanceRule:
    """What the record of one person says, computed now."""
    return RegimenBook.for_sites([person.site]).judge(person)
