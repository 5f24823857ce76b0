"""The dates on which a person may be rostered for field work, and what stands in the way on the others.

Nothing here knows today's date: the same record and rules give the same answer on any day.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial

from staff.ground.dates import add_days, add_months
from staff.rules.record.facts import (
    BriefingFact,
    ClearanceRules,
    HoldFact,
    LetterFact,
    PersonFacts,
    TitreFact,
)
from staff.rules.record.immunity import (
    Completion,
    checked_days,
    find_completions,
    kept_days,
    low_titre_days,
    qualifying_regimens,
)
from staff.rules.record.intervals import (
    ALWAYS,
    NEVER,
    Intervals,
    covers,
    first_day_from,
    intersect,
    last_day_before,
    merge,
    subtract,
)
from staff.rules.record.reasons import Params, Reason, ReasonCode
from staff.rules.record.series_reasons import explain_series
from staff.rules.regimen.values import Interval, Regimen

__all__ = [
    "BriefingFact",
    "Clearance",
    "ClearanceRules",
    "Condition",
    "HoldFact",
    "LetterFact",
    "Params",
    "PersonFacts",
    "Reason",
    "ReasonCode",
    "TitreFact",
    "evaluate_clearance",
]


# The conditions by which a complete series lapses.
LAPSES = frozenset({"later-dose", "recheck", "titre"})


@dataclass(frozen=True)
class Condition:
    """One thing asked for: the dates that meet it, and how to explain a date that does not."""

    name: str
    intervals: Intervals
    explain: Callable[[date], tuple[Reason, ...]] = field(compare=False, repr=False)

    def reasons_on(self, day: date) -> tuple[Reason, ...]:
        return () if covers(self.intervals, day) else self.explain(day)


@dataclass(frozen=True)
class Clearance:
    """`intervals` are the clear dates; `conditions` must all be met, `advice` only warns."""

    intervals: Intervals
    conditions: tuple[Condition, ...]
    advice: tuple[Condition, ...] = ()

    def covers(self, day: date) -> bool:
        return covers(self.intervals, day)

    def clear_from(self, day: date) -> date | None:
        """The first clear date that is `day` or after it; None when the record gives none."""
        return first_day_from(self.intervals, day)

    def reasons_on(self, day: date) -> tuple[Reason, ...]:
        """Everything that stops `day`; empty exactly when `day` is clear."""
        return tuple(reason for condition in self.conditions for reason in condition.reasons_on(day))

    def advice_on(self, day: date) -> tuple[Reason, ...]:
        """What has lapsed by `day` at a site where lapses advise and do not block."""
        return tuple(reason for condition in self.advice for reason in condition.reasons_on(day))

    def lapses_on(self, day: date) -> tuple[Reason, ...]:
        """By what a complete series has lapsed by `day`, whether the site lets that block or only advise."""
        asked = [one for one in (*self.conditions, *self.advice) if one.name in LAPSES]
        return tuple(reason for condition in asked for reason in condition.reasons_on(day))


def evaluate_clearance(
    *,
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
    post_exposure: Sequence[Regimen],
) -> Clearance:
    """The clear dates of one person under one site's rules and approved pre-exposure regimens.

    `post_exposure` are all known versions, approved at the site or not: what was given stays given.

    A pre-exposure regimen serves when it takes at least `doses_required` doses to complete; a complete
    documented post-exposure course serves whatever that number. The earliest completion counts. Somebody
    immunocompromised is clear only while a clinician's letter that a second person has seen covers the date.

    One more valid dose never takes a clear date away: it can only bring completion forward (see
    evaluate_series), start another term, or end the effect of a low titre.
    """
    qualifying = qualifying_regimens(pre_exposure, rules.doses_required)
    completions = find_completions(
        doses=facts.doses, qualifying=qualifying, post_exposure=post_exposure, rules=rules
    )
    lapses = (
        _later_dose(completions, facts),
        _recheck(completions, facts, rules),
        _titre(completions, facts),
    )
    conditions = (
        _series(completions, facts, rules, pre_exposure),
        _letter(facts),
        *(lapses if rules.lapse_blocks else ()),
        _briefing(facts, rules.briefing_months),
        _hold(facts),
        _active(facts),
    )
    clear = ALWAYS
    for condition in conditions:
        clear = intersect(clear, condition.intervals)
    return Clearance(clear, conditions, advice=() if rules.lapse_blocks else lapses)


def _series(
    completions: Sequence[Completion],
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
) -> Condition:
    complete_on = completions[0].complete_on if completions else None
    clear_from = add_days(complete_on, rules.settling_days) if complete_on else None
    explain = partial(
        explain_series,
        facts=facts,
        rules=rules,
        pre_exposure=pre_exposure,
        complete_on=complete_on,
        clear_from=clear_from,
    )
    return Condition("series", (Interval(clear_from, None),) if clear_from else NEVER, explain)


def _letter(facts: PersonFacts) -> Condition:
    if not facts.immunocompromised:
        return Condition("letter", ALWAYS, lambda _day: ())
    days = merge(Interval(one.signed_on, one.valid_until) for one in facts.letters if one.verified)
    return Condition("letter", days, partial(_explain_letter, days, facts.letters))


def _explain_letter(days: Intervals, letters: Sequence[LetterFact], day: date) -> tuple[Reason, ...]:
    waiting = sum(not one.verified and one.signed_on <= day <= one.valid_until for one in letters)
    last = last_day_before(days, day)
    lapsed_on = add_days(last, 1) if last else None
    return (Reason(ReasonCode.LETTER_NEEDED, Params(lapsed_on=lapsed_on, waiting=waiting or None)),)


def _later_dose(completions: Sequence[Completion], facts: PersonFacts) -> Condition:
    days = kept_days(completions, facts.doses)
    return Condition("later-dose", days, partial(_explain_recheck, days))


def _recheck(completions: Sequence[Completion], facts: PersonFacts, rules: ClearanceRules) -> Condition:
    days = checked_days(completions, facts.doses, facts.titres, rules)
    return Condition("recheck", days, partial(_explain_recheck, days))


def _explain_recheck(days: Intervals, day: date) -> tuple[Reason, ...]:
    last = last_day_before(days, day)
    return (Reason(ReasonCode.RECHECK_DUE, Params(lapsed_on=add_days(last, 1) if last else None)),)


def _titre(completions: Sequence[Completion], facts: PersonFacts) -> Condition:
    """Low titres matter once the series is complete; before that the series itself is what is missing."""
    after = (Interval(completions[0].complete_on, None),) if completions else NEVER
    lost = [(titre, intersect(low_titre_days(titre, facts.doses), after)) for titre in facts.titres]
    taken_away = merge(interval for _, days in lost for interval in days)
    return Condition("titre", subtract(ALWAYS, taken_away), partial(_explain_titre, lost))


def _explain_titre(lost: Sequence[tuple[TitreFact, Intervals]], day: date) -> tuple[Reason, ...]:
    titre = max(
        (titre for titre, days in lost if covers(days, day)), key=lambda t: (t.taken_on, -t.iu_per_ml)
    )
    return (Reason(ReasonCode.TITRE_LOW, Params(taken_on=titre.taken_on, iu_per_ml=str(titre.iu_per_ml))),)


def _briefing(facts: PersonFacts, months: int | None) -> Condition:
    """A briefing is good from the day it is held, through its anniversary when it runs out at all."""
    held = sorted(briefing.held_on for briefing in facts.briefings)
    if months is None:
        days = ALWAYS
    else:
        days = merge(Interval(day, add_months(day, months) if months else None) for day in held)
    return Condition("briefing", days, partial(_explain_briefing, days, held))


def _explain_briefing(days: Intervals, held: Sequence[date], day: date) -> tuple[Reason, ...]:
    last = last_day_before(days, day)
    if last is None:
        return (Reason(ReasonCode.BRIEFING_MISSING),)
    latest = max(held_on for held_on in held if held_on <= day)
    return (Reason(ReasonCode.BRIEFING_LAPSED, Params(held_on=latest, lapsed_on=add_days(last, 1))),)


def _hold(facts: PersonFacts) -> Condition:
    held = [Interval(hold.starts_on, hold.ends_on) for hold in facts.holds]
    return Condition("hold", subtract(ALWAYS, held), partial(_explain_hold, facts.holds))


def _explain_hold(holds: Sequence[HoldFact], day: date) -> tuple[Reason, ...]:
    found = [
        Params(starts_on=hold.starts_on, ends_on=hold.ends_on, reason=hold.reason)
        for hold in holds
        if covers([Interval(hold.starts_on, hold.ends_on)], day)
    ]
    found.sort(key=lambda params: (params["starts_on"], str(params.get("ends_on")), params["reason"]))
    return tuple(Reason(ReasonCode.HELD, params) for params in found)


def _active(facts: PersonFacts) -> Condition:
    start, end = facts.active_from or date.min, facts.active_until
    days = NEVER if end is not None and end < start else (Interval(start, end),)
    reason = Reason(
        ReasonCode.NOT_ACTIVE, Params(active_from=facts.active_from, active_until=facts.active_until)
    )
    return Condition("active", days, lambda _day: (reason,))
