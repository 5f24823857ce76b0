"""What is known of an animal, as a page says it: days as marks with words, and what to tell the clinician today."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from safety.models import AnimalCheck, AnimalLink, AnimalOutcome, Incident, Observation, Outcome, Seen
from safety.rules.animal import observation as rule
from safety.selectors.animal.observation import (
    WATCHABLE,
    every_check,
    every_outcome,
    observation_of,
    standing_checks,
    standing_outcomes,
    state_of,
    words_of,
)
from safety.selectors.case.cases import needs_clinic
from safety.words import State


@dataclass(frozen=True)
class DayMark:
    """One day of the observation: its number (day 0 is the exposure), its date and what was seen."""

    number: int
    day: date
    state: State


@dataclass(frozen=True)
class AnimalView:
    """What the case page shows. Without `observation` either one may be begun (`may_begin`) or `instead` says why not."""

    observation: Observation | None = None
    may_begin: bool = False
    asked_for: bool = False
    instead: str = ""
    state: State | None = None
    watched: bool = False
    days: tuple[DayMark, ...] = ()
    days_asked: int = 0
    days_done: int = 0
    tell: tuple[str, ...] = ()
    checks: tuple[AnimalCheck, ...] = ()
    outcomes: tuple[AnimalOutcome, ...] = ()
    link: AnimalLink | None = None


def animal_view(incident: Incident, now: datetime) -> AnimalView | None:
    """None where nothing calls for a clinic and no animal is watched."""
    observation = observation_of(incident)
    if observation is None:
        return _unwatched(incident) if needs_clinic(incident) else None
    today = incident.site.local_date(now)
    state = state_of(observation, today)
    days = tuple(_day_marks(observation, today))
    return AnimalView(
        observation=observation,
        state=_state_words(observation, state),
        watched=state in (rule.Watch.WATCHING, rule.Watch.LAST_DAY),
        days=days,
        days_asked=len(observation.term.days()),
        days_done=len(set(observation.term.days()) & set(words_of(observation))),
        tell=tuple(_tell(observation, state)),
        checks=tuple(every_check(observation)),
        outcomes=tuple(every_outcome(observation)),
        link=next((link for link in observation.links.all() if link.ended_at is None), None),
    )


def _unwatched(incident: Incident) -> AnimalView:
    if incident.animal not in WATCHABLE:
        words = _(
            "Only a dog or a cat is watched. About this animal ask the clinician and the veterinary authority; "
            "the first dose doesn't wait for their answer."
        )
        return AnimalView(instead=words)
    said = incident.animal_facts
    asked = "yes" in (said.get("can_be_watched"), said.get("owner_known"))
    return AnimalView(may_begin=incident.is_open, asked_for=asked)


def seen_state(seen: rule.Seen) -> State:
    look, mark = {
        rule.Seen.WELL: ("clear", "✓"),
        rule.Seen.NOT_SEEN: ("wait", "?"),
    }.get(seen, ("blocked", "✕"))
    return State(look, mark, str(Seen(seen.value).label))


def _day_marks(observation: Observation, today: date) -> list[DayMark]:
    words, first = words_of(observation), observation.first_on
    asked = observation.term.days()
    days = sorted({first, *asked, *words})

    def mark(day: date) -> State:
        if day in words:
            return seen_state(words[day])
        if day == first:
            return State("done", "●", _("exposure"))
        if day < today:
            return State("late", "!", _("no check"))
        return State("wait", "○", _("today")) if day == today else State("done", "○", _("to come"))

    return [DayMark((day - first).days, day, mark(day)) for day in days]


def _state_words(observation: Observation, state: rule.Watch) -> State:
    outcomes = standing_outcomes(observation)
    newest = outcomes[-1] if outcomes else None
    if state is rule.Watch.WATCHING and newest is None:
        return State("wait", "…", _("being watched"))
    if state is rule.Watch.LAST_DAY and newest is None:
        return State("late", "!", _("last day reached"))
    if newest is None:
        raise ValueError(f"observation {observation.pk} is {state} without an outcome")
    good = newest.outcome in {Outcome.WELL, Outcome.NOT_FOUND}
    waits = newest.outcome == Outcome.SAMPLED
    look, mark = ("clear", "✓") if good else ("wait", "…") if waits else ("blocked", "✕")
    return State(look, mark, newest.get_outcome_display())


def _tell(observation: Observation, state: rule.Watch) -> list[str]:
    """What is asked of the clinician now, newest first. A course stops on the clinician's word alone (WHO 2018, 2nd hand)."""
    words = _clinician_words()
    outcomes = standing_outcomes(observation)
    told = [words[rule.Outcome(row.outcome)] for row in outcomes[-1:]]
    alarms = [check for check in standing_checks(observation) if check.seen in rule.ALARMING]
    # What was seen since is news to whoever recorded the outcome.
    if alarms and (not outcomes or alarms[-1].recorded_at > outcomes[-1].recorded_at):
        said = _("%(day)s: %(seen)s.") % {
            "day": date_format(alarms[-1].day, "DATE_FORMAT"),
            "seen": alarms[-1].get_seen_display(),
        }
        told.insert(0, f"{said} {words[rule.Outcome(alarms[-1].seen)]}")
    lost = rule.unseen_twice(words_of(observation))
    if lost and state in (rule.Watch.WATCHING, rule.Watch.LAST_DAY):
        told.append(
            _("Not seen two days running: look for it, and tell the clinician that nobody knows how it is.")
        )
    return told


def _clinician_words() -> dict[rule.Outcome, str]:
    goes_on = _("The course goes on; whether it stops is the clinician's word.")
    return {
        rule.Outcome.WELL: _(
            "Tell the clinician today: the animal was well at the end of the observation. "
            "Whether the course stops is the clinician's word; until then it goes on."
        ),
        rule.Outcome.ILL: _(
            "Tell the clinician today: the animal shows signs of illness. Have the veterinary authority see it today."
        )
        + f" {goes_on}",
        rule.Outcome.ESCAPED: _(
            "Tell the clinician today: the animal escaped and can't be watched. Look for it and tell the neighbours."
        )
        + f" {goes_on}",
        rule.Outcome.DIED: _(
            "Tell the clinician today: the animal died. Ask the veterinary authority for a sample; nobody touches it bare-handed."
        )
        + f" {goes_on}",
        rule.Outcome.KILLED: _(
            "Tell the clinician today: the animal was killed. Ask the veterinary authority for a sample; nobody touches it bare-handed."
        )
        + f" {goes_on}",
        rule.Outcome.SAMPLED: _("Tell the clinician that a sample was taken, and when an answer is expected.")
        + f" {goes_on}",
        rule.Outcome.FOUND: _(
            "Tell the clinician at once: the laboratory found rabies. Everybody who touched the animal or its saliva "
            "is asked about and sent to the clinic the same day."
        )
        + f" {goes_on}",
        rule.Outcome.NOT_FOUND: _(
            "Tell the clinician today: the laboratory did not find rabies. "
            "Whether the course stops is the clinician's word; until then it goes on."
        ),
        rule.Outcome.UNFIT: _(
            "Tell the clinician today: the sample was unfit and there is no answer. That isn't “not found”."
        )
        + f" {goes_on}",
    }
