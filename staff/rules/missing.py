"""The things somebody lacks: each with the first day it can happen and the last on which it still helps."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from staff.rules.dates import add_days
from staff.rules.reasons import Reason
from staff.rules.series import NO_OTHER_ROUTE, OtherRoutes, evaluate_series
from staff.rules.values import DoseFact, Purpose, Regimen, Route


class ActionKind(StrEnum):
    """What has to happen. DECISION: only a person can say whether and when (its reason says what about)."""

    DOSE = "dose"
    RECHECK = "titre-or-booster"
    BOOSTER = "booster"
    BRIEFING = "briefing"
    DECISION = "decision"


@dataclass(frozen=True)
class Action:
    """One thing to do from `earliest_on` and by `last_on` (None: no date follows); `number`, `gap`, `injections` of a dose.

    `gap` is the smallest number of days after the dose before it.
    """

    kind: ActionKind
    earliest_on: date | None = None
    last_on: date | None = None
    number: int | None = None
    gap: int = 0
    injections: int = 1
    regimen: str | None = None
    reason: Reason | None = None


def missing_doses(
    doses: Sequence[DoseFact],
    regimen: Regimen,
    today: date,
    *,
    route: Route | None = None,
    other_routes: OtherRoutes = NO_OTHER_ROUTE,
) -> tuple[Action, ...]:
    """The doses that still make `regimen` complete, each on the earliest date that counts and none before `today`."""
    taken = [dose for dose in doses if dose.purpose is Purpose.PRE_EXPOSURE]
    missing: list[Action] = []
    for _step in regimen.primary_steps:
        result = evaluate_series(regimen=regimen, doses=taken, on=date.max, other_routes=other_routes)
        if result.complete_on is not None or result.next is None:
            break
        step = regimen.steps[result.next.number - 1]
        free = today if step.number == 1 else max(today, result.next.earliest_on)
        day = _free_day((*doses, *taken), free)
        missing.append(
            Action(
                ActionKind.DOSE,
                earliest_on=day,
                number=step.number,
                gap=step.gap,
                injections=step.injections,
                regimen=regimen.code,
            )
        )
        taken.append(DoseFact(given_on=day, route=route, injections=step.injections))
    return tuple(missing)


def _free_day(taken: Sequence[DoseFact], day: date) -> date:
    """`day`, or the next on which no dose stands: the record keeps one dose a person and day."""
    stands = {dose.given_on for dose in taken if not dose.voided}
    while day in stands:
        day = add_days(day, 1)
    return day


def last_days(doses: Sequence[Action], last_on: date) -> tuple[Action, ...]:
    """The same doses with the last day each may be given so that the last of them falls on `last_on` at the latest."""
    dated: list[Action] = []
    for action in sorted(doses, key=lambda action: action.number or 0, reverse=True):
        dated.append(replace(action, last_on=last_on))
        last_on = add_days(last_on, -action.gap)
    return tuple(reversed(dated))
