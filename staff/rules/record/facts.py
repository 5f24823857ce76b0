"""What clearance is judged on: the record of one person and the rules of one site."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from staff.rules.regimen.values import DoseFact

# Rabies virus neutralising antibody, IU/mL; exactly this much is adequate (WHO 2018, ACIP 2022).
ADEQUATE_TITRE = Decimal("0.5")


@dataclass(frozen=True)
class TitreFact:
    """A measured titre in IU/mL, dated by the day the blood was taken."""

    taken_on: date
    iu_per_ml: Decimal

    @property
    def adequate(self) -> bool:
        return self.iu_per_ml >= ADEQUATE_TITRE


@dataclass(frozen=True)
class BriefingFact:
    held_on: date


@dataclass(frozen=True)
class HoldFact:
    """A stop for one person; both dates included, no end means until further notice."""

    starts_on: date
    ends_on: date | None
    reason: str


@dataclass(frozen=True)
class LetterFact:
    """A clinician's clearance letter; both dates included. It counts once a second person has seen it."""

    signed_on: date
    valid_until: date
    verified: bool


@dataclass(frozen=True)
class ClearanceRules:
    """What a site asks for.

    `settling_days` pass between the completing dose and the first day in the field. `recheck_months` 0 asks for
    no re-check; with `recheck_once` one is enough (see staff.rules.record.immunity.checked_days). `lapse_blocks` False turns what ran out (a later dose, a re-check, a low titre) into advice. `briefing_months`
    None asks for no safety briefing, 0 for one ever; a briefing that is asked for always blocks.
    `mixed_routes` lets doses of another route count in a series (see staff.rules.record.mixed). A post-exposure course
    that was not finished is a series from its dose number `stopped_course_doses` on; 0: it never is.
    """

    doses_required: int = 3
    settling_days: int = 0
    recheck_months: int = 0
    recheck_once: bool = False
    lapse_blocks: bool = True
    briefing_months: int | None = None
    mixed_routes: bool = False
    stopped_course_doses: int = 0

    def __post_init__(self) -> None:
        if self.doses_required < 1:
            raise ValueError("doses_required must be 1 or more")
        if self.settling_days < 0 or self.recheck_months < 0 or (self.briefing_months or 0) < 0:
            raise ValueError("days and months of a clearance rule cannot be negative")
        if self.stopped_course_doses < 0 or self.stopped_course_doses == 1:
            raise ValueError("stopped_course_doses must be 0, or 2 or more")


@dataclass(frozen=True)
class PersonFacts:
    """The record of one person. Titres, briefings, holds and letters are those that stand; doses carry their own
    state. Somebody `immunocompromised` is cleared by a clinician's letter, on top of everything else."""

    doses: tuple[DoseFact, ...] = ()
    titres: tuple[TitreFact, ...] = ()
    briefings: tuple[BriefingFact, ...] = ()
    holds: tuple[HoldFact, ...] = ()
    letters: tuple[LetterFact, ...] = ()
    immunocompromised: bool = False
    active_from: date | None = None
    active_until: date | None = None
