"""When a series is complete, and for how long it holds."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from staff.rules.dates import add_days, add_months
from staff.rules.facts import TitreFact
from staff.rules.intervals import ALWAYS, NEVER, Intervals, merge, subtract
from staff.rules.series import evaluate_series
from staff.rules.values import DoseFact, Interval, Purpose, Regimen


@dataclass(frozen=True)
class Completion:
    """A regimen that the record completes, and the first date on which it was complete."""

    complete_on: date
    regimen: Regimen


def qualifying_regimens(pre_exposure: Iterable[Regimen], doses_required: int) -> tuple[Regimen, ...]:
    """The pre-exposure regimens that need at least the doses the site asks for to be complete."""
    return tuple(
        regimen
        for regimen in pre_exposure
        if regimen.purpose is Purpose.PRE_EXPOSURE and len(regimen.primary_steps) >= doses_required
    )


def find_completions(
    *, doses: Sequence[DoseFact], qualifying: Iterable[Regimen], post_exposure: Iterable[Regimen]
) -> tuple[Completion, ...]:
    """Every approved way in which the record is a complete series, earliest first.

    A pre-exposure regimen is read from the pre-exposure doses only, a post-exposure one from the doses of one
    course. The short course for the already immunised proves nothing by itself, so only regimens for people
    who were not immunised count.
    """
    series = [dose for dose in doses if dose.purpose is Purpose.PRE_EXPOSURE]
    candidates = [(regimen, series) for regimen in qualifying] + [
        (regimen, course)
        for course in _courses(doses)
        for regimen in post_exposure
        if regimen.purpose is Purpose.POST_EXPOSURE and any(d.regimen_code == regimen.code for d in course)
    ]
    found = []
    for regimen, taken in candidates:
        complete_on = evaluate_series(regimen=regimen, doses=taken, on=date.max).complete_on
        if complete_on is not None:
            found.append(Completion(complete_on, regimen))
    return tuple(sorted(found, key=lambda completion: (completion.complete_on, completion.regimen.code)))


def kept_days(completions: Sequence[Completion], doses: Iterable[DoseFact]) -> Intervals:
    """The dates on which no later dose of a complete series (such as the one at a year) is overdue.

    A later dose is due its planned gap after the last dose, and the series holds through the end of its window.
    Any dose from the completion onward may stand for that last dose, so one more dose only ever adds dates.
    Several complete series: one that holds is enough. Dates before completion are included.
    """
    if not completions:
        return ALWAYS
    given = _standing_dates(doses)
    windows = [window for completion in completions for window in _later_windows(completion, given)]
    return merge(_before(completions) + tuple(windows))


def checked_days(
    completions: Sequence[Completion],
    doses: Iterable[DoseFact],
    titres: Iterable[TitreFact],
    recheck_months: int,
) -> Intervals:
    """The dates on which no re-check is overdue; with `recheck_months` 0 it never is.

    The term runs by the calendar from the completion, from every further dose and from every adequate titre,
    and lasts through its anniversary: the anniversary is the last day covered (decided here). Dates before
    completion are included.
    """
    if not completions or recheck_months == 0:
        return ALWAYS
    complete_on = completions[0].complete_on
    starts = [given_on for given_on in _standing_dates(doses) if given_on >= complete_on]
    starts += [titre.taken_on for titre in titres if titre.adequate]
    return merge(
        _before(completions) + tuple(Interval(day, add_months(day, recheck_months)) for day in starts)
    )


def low_titre_days(titre: TitreFact, doses: Iterable[DoseFact]) -> Intervals:
    """The dates a low titre takes away: from the blood sample until the next dose, that day not included.

    A dose on the day of the sample is taken to follow it. A later adequate titre gives nothing back without a
    dose (decided here, on the side of caution).
    """
    if titre.adequate:
        return NEVER
    dose_on = next((given_on for given_on in _standing_dates(doses) if given_on >= titre.taken_on), None)
    return subtract([Interval(titre.taken_on, None)], [Interval(dose_on, None)] if dose_on else [])


def _before(completions: Sequence[Completion]) -> Intervals:
    return subtract(ALWAYS, [Interval(completions[0].complete_on, None)])


def _standing_dates(doses: Iterable[DoseFact]) -> list[date]:
    """Dates of the doses of any purpose and route that may count, in order: to boost, any of them serves."""
    return sorted({dose.given_on for dose in doses if dose.stands})


def _later_windows(completion: Completion, given: Sequence[date]) -> list[Interval]:
    windows = []
    reached = completion.complete_on
    before = completion.regimen.primary_steps[-1]
    for step in completion.regimen.later_steps:
        lasts = step.latest_day - before.day
        windows += [Interval(day, add_days(day, lasts)) for day in given if day >= reached]
        counts_from = add_days(reached, step.gap)
        following = next((day for day in given if day >= counts_from), None)
        if following is None:
            return windows
        reached, before = following, step
    return [*windows, Interval(reached, None)]


def _courses(doses: Iterable[DoseFact]) -> list[list[DoseFact]]:
    """Post-exposure doses by course; those without a course key are put together by regimen."""
    courses: dict[tuple[str, str], list[DoseFact]] = {}
    for dose in doses:
        if dose.purpose is not Purpose.POST_EXPOSURE or not dose.stands:
            continue
        if dose.course_key is not None:
            courses.setdefault(("course", dose.course_key), []).append(dose)
        elif dose.regimen_code is not None:
            courses.setdefault(("regimen", dose.regimen_code), []).append(dose)
    return list(courses.values())
