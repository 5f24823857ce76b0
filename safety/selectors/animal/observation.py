"""Reading what is known of an animal, and which animals the desk has to ask about."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import Animal, AnimalCheck, AnimalLink, AnimalOutcome, Incident, Observation, Outcome
from safety.rules.animal import observation as rule
from staff.models import Site
from staff.selectors.record.voidable import standing_or_last

# Dogs and cats, WHO 2018; of every other animal the clinician and the veterinary authority are asked.
WATCHABLE = frozenset({Animal.DOG_OWNED.value, Animal.DOG_ROAMING.value, Animal.CAT.value})


def observation_of(incident: Incident) -> Observation | None:
    """The observation of the case that stands, with its checks and outcomes that stand."""
    return (
        Observation.objects.filter(incident=incident)
        .select_related("incident__site__rules", "incident__person")
        .prefetch_related("checks", "outcomes", "links")
        .first()
    )


def newest_observation(incident: Incident) -> Observation | None:
    return standing_or_last(
        Observation.everything.filter(incident=incident).select_related("incident__person")
    )


def standing_checks(observation: Observation) -> list[AnimalCheck]:
    """Oldest first."""
    return list(observation.checks.all())


def standing_outcomes(observation: Observation) -> list[AnimalOutcome]:
    """Oldest first."""
    return list(observation.outcomes.all())


def every_check(observation: Observation) -> list[AnimalCheck]:
    """For the history: voided ones too, oldest first. So `every_outcome`."""
    return list(AnimalCheck.everything.filter(observation=observation).select_related("recorded_by", "link"))


def every_outcome(observation: Observation) -> list[AnimalOutcome]:
    return list(AnimalOutcome.everything.filter(observation=observation).select_related("recorded_by"))


def words_of(observation: Observation) -> dict[date, rule.Seen]:
    return rule.words_of_days([check.as_fact() for check in standing_checks(observation)])


def state_of(observation: Observation, today: date) -> rule.Watch:
    outcomes = [rule.Outcome(row.outcome) for row in standing_outcomes(observation)]
    return rule.watch_state(last_on=observation.last_on, outcomes=outcomes, today=today)


def live_links() -> QuerySet[AnimalLink]:
    """Links of observations that stand, which is not to say that the observation goes on."""
    return AnimalLink.objects.filter(
        ended_at__isnull=True, observation__voided_at__isnull=True
    ).select_related("observation__incident__site__rules", "observation__incident__person")


@dataclass(frozen=True)
class AnimalToCheck:
    """One animal somebody has to ask about: a code, a sentence, since when, and whether that has passed."""

    observation: Observation
    code: str
    words: str
    due_on: date
    overdue: bool


def unsettled_observations(sites: QuerySet[Site]) -> QuerySet[Observation]:
    """Observations still to be ended in words or answered by a laboratory, at `sites`."""
    newest = (
        AnimalOutcome.objects.filter(observation=OuterRef("pk"))
        .exclude(outcome=Outcome.ILL)
        .order_by("-recorded_at", "-pk")
        .values("outcome")[:1]
    )
    return (
        Observation.objects.filter(incident__site__in=sites)
        .annotate(newest=Subquery(newest))
        .filter(Q(newest__isnull=True) | Q(newest=Outcome.SAMPLED))
        .select_related("incident__site__rules", "incident__person")
        .prefetch_related("checks", "outcomes")
    )


def asks_of(observation: Observation, today: date) -> list[AnimalToCheck]:
    """What is to be asked about one animal on `today`, the site's date: at most one thing."""
    words, term = words_of(observation), observation.term
    state = state_of(observation, today)
    if state is rule.Watch.ENDED:
        return []
    if state is rule.Watch.LABORATORY:
        taken_on = next(
            r.known_on for r in standing_outcomes(observation)[::-1] if r.outcome == Outcome.SAMPLED
        )
        said = _("The laboratory's answer is awaited: ring and ask.")
        return [AnimalToCheck(observation, "laboratory", said, taken_on, taken_on < today)]
    missing = rule.missing_days(term, words, today)
    if state is rule.Watch.LAST_DAY:
        said = _("The last day of the observation is reached: see the animal and record how it ended.")
        return [AnimalToCheck(observation, "last-day", said, term.last_on, term.last_on < today)]
    if missing:
        said = _("No check is recorded for %(day)s: ask how the animal is.") % {
            "day": date_format(missing[-1], "DATE_FORMAT")
        }
        return [AnimalToCheck(observation, "check-missing", said, missing[0], overdue=True)]
    if today in term.days() and today not in words:
        return [
            AnimalToCheck(
                observation, "check-today", _("Today's check isn't recorded yet."), today, overdue=False
            )
        ]
    return []
