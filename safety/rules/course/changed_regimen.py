"""A regimen changed in the middle of a course: the doses given stay counted, and nothing starts again.

Acceptable when unavoidable, without a restart (WHO 2018, from memory, not checked against the source).
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from staff.rules.regimen.values import Regimen, Step


def after_change(regimen: Regimen, kept: Sequence[date]) -> Regimen:
    """`regimen` as it goes on from doses that counted before the change on the dates `kept`.

    They stand for its first steps, on the days they were really given; the steps that remain keep their planned
    gaps, windows and smallest gaps from the last of them on. More doses than steps: all its steps are given.
    """
    days = sorted(set(kept))[: len(regimen.steps)]
    if not days:
        return regimen
    given = [_as_given(step, days, place) for place, step in enumerate(regimen.steps[: len(days)])]
    shift = given[-1].day - regimen.steps[len(days) - 1].day
    rest = [
        replace(step, day=step.day + shift, latest_day=step.latest_day + shift)
        for step in regimen.steps[len(days) :]
    ]
    return replace(regimen, steps=(*given, *rest))


def _as_given(step: Step, days: Sequence[date], place: int) -> Step:
    day = (days[place] - days[0]).days
    return replace(step, day=day, latest_day=day, smallest_gap=0)
