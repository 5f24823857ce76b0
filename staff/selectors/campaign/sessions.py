"""The list of a vaccination session, and the dose that somebody who comes to it would take."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from staff.ground.purposes import SERIES
from staff.models import Campaign, Person, Purpose, Session, SessionPlace
from staff.rules.record.facts import ClearanceRules, PersonFacts
from staff.rules.record.immunity import (
    Completion,
    find_completions,
    low_titre_days,
    qualifying_regimens,
    series_routes,
)
from staff.rules.record.intervals import covers
from staff.rules.record.missing import missing_doses
from staff.rules.record.series import evaluate_series
from staff.rules.regimen import values
from staff.selectors.record.readiness import readiness_of
from staff.selectors.record.records import RegimenBook, facts_of, with_record
from staff.selectors.regimen.regimens import versioned_rule
from staff.words import dose_words

Outcome = SessionPlace.Outcome


@dataclass(frozen=True)
class ListLine:
    """A line of a session's list. `too_early_until`: the dose counts from that day only, as the record now stands.

    `had_on`: since when the record has what is still expected here. `ask_first`: by now the dose is the clinician's
    to order. `uncounted` says why the dose that was given doesn't count.
    """

    place: SessionPlace
    had_on: date | None
    too_early_until: date | None
    uncounted: str = ""
    ask_first: bool = False


@dataclass(frozen=True)
class DoseToTake:
    """What a dose given now would be: step `number` of the campaign's regimen, or a booster of a complete series.

    `doubt` says why the program proposes no dose at all.
    """

    number: int
    injections: int
    purpose: Purpose
    doubt: str = ""

    @property
    def in_series(self) -> bool:
        return self.purpose.value in SERIES


@dataclass(frozen=True)
class Unplanned:
    """Somebody who came without being expected: what the dose would be and what the record says of them that day."""

    row: str
    person: Person
    take: DoseToTake
    words: tuple[str, ...]


def session_lines(session: Session) -> list[ListLine]:
    """Who is expected or came, with a word about each whose dose is on record or would not count that day."""
    places = list(session.places.exclude(outcome=Outcome.MOVED).select_related("person", "dose__standing"))
    by_regimen = _ByRegimen(session.campaign)
    people = with_record(Person.objects.filter(pk__in=[place.person_id for place in places]))
    facts = {person.pk: facts_of(person) for person in people}
    return [by_regimen.line(place, facts[place.person_id], session.held_on) for place in places]


def dose_to_take(campaign: Campaign, person: Person, on: date) -> DoseToTake:
    """For somebody who comes on `on` without being expected, by the record as it stands."""
    return _ByRegimen(campaign).to_take(facts_of(person), on)


def unplanned_people(session: Session, came: Mapping[str, tuple[Person, date]]) -> list[Unplanned]:
    """Whoever of `came` (person and day by row) has no dose noted at this session yet."""
    noted = set(session.places.filter(outcome=Outcome.GIVEN).values_list("person", flat=True))
    by_regimen = _ByRegimen(session.campaign)
    return [
        Unplanned(row, person, by_regimen.to_take(facts_of(person), on), readiness_of(person, on).words)
        for row, (person, on) in came.items()
        if person.pk not in noted
    ]


class _ByRegimen:
    """Reads records by the campaign's regimen and the rules of its site."""

    def __init__(self, campaign: Campaign) -> None:
        self.regimen = versioned_rule(campaign.regimen)
        self.rules: ClearanceRules = campaign.site.rules.for_clearance()
        book = RegimenBook.for_sites([campaign.site])
        self.pre_exposure: Sequence[values.Regimen] = book.pre_exposure[campaign.site_id]
        self.post_exposure = book.post_exposure
        self.others = series_routes(self.regimen, self.pre_exposure, self.rules)

    def line(self, place: SessionPlace, facts: PersonFacts, held_on: date) -> ListLine:
        if place.dose_id is not None:
            return ListLine(place, None, None, _uncounted(place))
        expected = place.outcome == Outcome.EXPECTED
        if had_on := self.had(facts, held_on, place.number) if expected else None:
            return ListLine(place, had_on, None)
        taken = [dose for dose in facts.doses if dose.given_on <= held_on]
        ask_first = expected and bool(_doubt(facts, taken, held_on))
        return ListLine(place, None, self.too_early(facts, held_on), ask_first=ask_first)

    def had(self, facts: PersonFacts, held_on: date, number: int) -> date | None:
        """Since when step `number` is on record from elsewhere, or another series is complete. A dose that stands
        on the session's day is the whole day's: the record keeps one a person and day."""
        if any(dose.given_on == held_on and not dose.voided for dose in facts.doses):
            return held_on
        if complete := self.completions(facts.doses):
            return complete[0].complete_on
        taken = [dose for dose in facts.doses if dose.purpose in SERIES]
        series = evaluate_series(regimen=self.regimen, doses=taken, on=date.max, other_routes=self.others)
        counted = [result.dose.given_on for result in series.doses if result.counts]
        return counted[number - 1] if len(counted) >= number else None

    def completions(self, doses: Sequence[values.DoseFact]) -> tuple[Completion, ...]:
        return find_completions(
            doses=doses,
            qualifying=qualifying_regimens(self.pre_exposure, self.rules.doses_required),
            post_exposure=self.post_exposure,
            rules=self.rules,
        )

    def too_early(self, facts: PersonFacts, held_on: date) -> date | None:
        taken = [dose for dose in facts.doses if dose.given_on <= held_on]
        missing = missing_doses(taken, self.regimen, held_on, other_routes=self.others)
        earliest = missing[0].earliest_on if missing else None
        return earliest if earliest is not None and earliest > held_on else None

    def to_take(self, facts: PersonFacts, on: date) -> DoseToTake:
        taken = [dose for dose in facts.doses if dose.given_on <= on]
        missing = missing_doses(taken, self.regimen, on, other_routes=self.others)
        doubt = _doubt(facts, taken, on)
        if self.completions(taken) or not missing:
            return DoseToTake(len(self.regimen.primary_steps) + 1, 1, Purpose.BOOSTER, doubt)
        return DoseToTake(missing[0].number or 1, missing[0].injections, Purpose.PRE_EXPOSURE, doubt)


def _doubt(facts: PersonFacts, taken: Sequence[values.DoseFact], on: date) -> str:
    """Why a dose is the clinician's to order: whether it is the right one no list of doses can tell."""
    low = any(covers(low_titre_days(titre, taken), on) for titre in facts.titres)
    if not facts.immunocompromised and not low:
        return ""
    why = _("Immunocompromised.") if facts.immunocompromised else _("Low titre.")
    remedy = _(
        "The program proposes no dose: ask the clinician. A dose that was ordered is entered on the person's own page."
    )
    return f"{why} {remedy}"


def _uncounted(place: SessionPlace) -> str:
    dose = place.dose
    if dose is None or dose.voided_at is not None or not dose.in_series:
        return ""
    standing = getattr(dose, "standing", None)
    return dose_words(standing.as_judgement()) if standing is not None and standing.counts is False else ""


def vials_of(session: Session, places: Iterable[SessionPlace]) -> tuple[int, int]:
    """Vials to bring for those places, and how many it would be if each person came alone."""
    per_vial = session.campaign.injections_per_vial
    counts = [place.injections for place in places]
    return -(-sum(counts) // per_vial), sum(-(-count // per_vial) for count in counts)
