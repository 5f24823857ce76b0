"""The things somebody lacks: each with the first day it can happen and the last on which it still helps."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from staff.ground.dates import add_days
from staff.ground.purposes import SERIES
from staff.rules.record.reasons import Reason
from staff.rules.record.series import NO_OTHER_ROUTE, NextDose, OtherRoutes, evaluate_series
from staff.rules.regimen.values import DoseFact, Regimen, Route


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
    following = remaining_doses(doses, regimen, today, planned=False, route=route, other_routes=other_routes)
    steps = [(dose, regimen.steps[dose.number - 1]) for dose in following]
    return tuple(
        Action(
            ActionKind.DOSE,
            earliest_on=dose.due_on,
            number=step.number,
            gap=step.gap,
            injections=step.injections,
            regimen=regimen.code,
        )
        for dose, step in steps
    )


def remaining_doses(
    doses: Sequence[DoseFact],
    regimen: Regimen,
    today: date,
    *,
    planned: bool,
    route: Route | None = None,
    other_routes: OtherRoutes = NO_OTHER_ROUTE,
) -> tuple[NextDose, ...]:
    """The same doses, due on the dates the regimen plans (`planned`) or else as early as they count, none before
    `today` or on the day of another dose.

    `latest_on` stays where the window ends, so a dose whose `due_on` lies after it is overdue.
    """
    taken = [dose for dose in doses if dose.purpose in SERIES]
    remaining: list[NextDose] = []
    for _step in regimen.primary_steps:
        result = evaluate_series(regimen=regimen, doses=taken, on=date.max, other_routes=other_routes)
        if result.complete_on is not None or result.next is None:
            break
        following = result.next
        wanted = following.due_on if planned else following.earliest_on
        # Nothing dates the first dose.
        day = _free_day((*doses, *taken), today if following.number == 1 else max(today, wanted))
        remaining.append(
            NextDose(1, day, day, day) if following.number == 1 else replace(following, due_on=day)
        )
        injections = regimen.steps[following.number - 1].injections
        taken.append(DoseFact(given_on=day, route=route, injections=injections))
    return tuple(remaining)


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
