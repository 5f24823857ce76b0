"""What is wrong with a regimen, step by step and field by field, so that whoever drafts it can mend it.

`staff.rules.regimen.values.Regimen` refuses the same contradictions; this names all of them at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from staff.rules.regimen.values import Step


@dataclass(frozen=True)
class StepFault:
    """`step` counts from 1, 0 for the regimen itself; `code` names the fault, for which the words stand elsewhere."""

    step: int
    field: str
    code: str


def regimen_faults(*, routes: Sequence[str], steps: Sequence[Step]) -> tuple[StepFault, ...]:
    """Every fault, in the order of the steps; nothing when the rules can work on the regimen."""
    faults = []
    if not routes:
        faults.append(StepFault(0, "routes", "no-route"))
    if not steps:
        faults.append(StepFault(0, "steps", "no-step"))
    for position, step in enumerate(steps):
        before = steps[position - 1] if position else None
        faults += [StepFault(position + 1, *fault) for fault in _faults(step, position + 1, before)]
    return tuple(faults)


def _faults(step: Step, number: int, before: Step | None) -> list[tuple[str, str]]:
    found = []
    if step.number != number:
        found.append(("number", "not-in-order"))
    if step.latest_day < step.day:
        found.append(("latest_day", "before-its-day"))
    if step.smallest_gap < 0:
        found.append(("smallest_gap", "negative"))
    if step.injections < 1:
        found.append(("injections", "none"))
    return found + (_first(step) if before is None else _following(step, before))


def _first(step: Step) -> list[tuple[str, str]]:
    found = []
    if step.day != 0:
        found.append(("day", "first-is-day-0"))
    if step.smallest_gap > 0:
        found.append(("smallest_gap", "first-has-no-gap"))
    if step.later:
        found.append(("later", "nothing-complete-yet"))
    return found


def _following(step: Step, before: Step) -> list[tuple[str, str]]:
    found = []
    if step.day <= before.day:
        found.append(("day", "not-after-step-before"))
    elif step.smallest_gap > step.day - before.day:
        found.append(("smallest_gap", "longer-than-planned"))
    if before.later and not step.later:
        found.append(("later", "follows-a-later-dose"))
    return found
