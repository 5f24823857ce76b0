"""What was recorded of an animal, taken back: the observation, a check, an outcome."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.translation import gettext_lazy

from safety.models import AnimalCheck, AnimalOutcome, Observation
from safety.services.animal.observation import check_well_rests, lock_observation
from staff.models import User
from staff.services.voiding import Voiding, VoidRule, void


def _about(observation: Observation) -> dict[str, Any]:
    incident = observation.incident
    return {"person": incident.person, "target": incident.reference, "observation": observation.pk}


def _end_links(act: Voiding[Observation], _locked: None) -> None:
    act.row.links.filter(ended_at__isnull=True).update(ended_at=act.now)


OBSERVATION_VOID = VoidRule(
    model=Observation,
    action="animal.voided",
    twice=gettext_lazy("This observation is voided already."),
    # Its own row is all there is to lock, and the UPDATE locks it.
    lock=lambda _act: None,
    about=_about,
    follow=_end_links,
)


def observation_void(*, actor: User, observation: Observation, reason: str, now: datetime) -> None:
    """Take back an observation begun in error, say of the wrong animal; its link ends with it. Refuses as `void` does."""
    void(actor=actor, row=observation, reason=reason, now=now, rule=OBSERVATION_VOID)


CHECK_VOID = VoidRule(
    model=AnimalCheck,
    action="animal.check-voided",
    twice=gettext_lazy("This check is voided already."),
    lock=lambda act: lock_observation(act.row.observation),
    about=lambda row: _about(row.observation) | {"day": row.day.isoformat(), "seen": row.seen},
    follow=lambda _act, observation: check_well_rests(observation),
)


def check_void(*, actor: User, check: AnimalCheck, reason: str, now: datetime) -> None:
    """Take a check back; the word of the day before it, if any, counts again. Refuses as `void` does, and while “well
    at the end” rests on it."""
    void(actor=actor, row=check, reason=reason, now=now, rule=CHECK_VOID)


OUTCOME_VOID = VoidRule(
    model=AnimalOutcome,
    action="animal.outcome-voided",
    twice=gettext_lazy("This entry about the animal is voided already."),
    lock=lambda act: lock_observation(act.row.observation),
    about=lambda row: _about(row.observation) | {"outcome": row.outcome},
    # Where the animal is watched on, the days after it are asked for again by themselves.
    follow=lambda _act, _locked: None,
)


def outcome_void(*, actor: User, outcome: AnimalOutcome, reason: str, now: datetime) -> None:
    """Take an outcome back; the days after it are asked for again where the animal is watched on. Refuses as `void`
    does."""
    void(actor=actor, row=outcome, reason=reason, now=now, rule=OUTCOME_VOID)
