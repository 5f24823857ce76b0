"""When a series is complete, and for how long it holds."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from staff.ground.dates import add_days, add_months
from staff.ground.purposes import PROVING, SERIES
from staff.rules.record.facts import ClearanceRules, TitreFact
from staff.rules.record.intervals import ALWAYS, NEVER, Intervals, merge, subtract
from staff.rules.record.mixed import accepted_routes
from staff.rules.record.series import OtherRoutes, SeriesResult, evaluate_series
from staff.rules.regimen.values import DoseFact, Interval, Regimen

# From when one re-check settles it where the site asks for one only; the source stands in checked_days.
ONCE_BOOSTER_DAYS = 14
ONCE_TITRE_MONTHS = 12


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
        if regimen.purpose in SERIES and len(regimen.primary_steps) >= doses_required
    )


def series_routes(regimen: Regimen, pre_exposure: Iterable[Regimen], rules: ClearanceRules) -> OtherRoutes:
    """The routes clearance accepts beside those of `regimen`: whoever plans doses reads the record by the same."""
    qualifying = qualifying_regimens(pre_exposure, rules.doses_required)
    return accepted_routes(regimen, qualifying, mixed=rules.mixed_routes)


def find_completions(
    *,
    doses: Sequence[DoseFact],
    qualifying: Sequence[Regimen],
    post_exposure: Iterable[Regimen],
    rules: ClearanceRules,
) -> tuple[Completion, ...]:
    """Every way in which the record is a complete series, earliest first: by a pre-exposure regimen the site has
    approved, or by a documented course of any known post-exposure version, approved at the site or not.

    A pre-exposure regimen is read from the pre-exposure doses only, a post-exposure one from the doses of one
    course. Which courses prove anything the table of purposes says.

    A course counts from its last dose, or from dose number `stopped_course_doses` on where the site's rule lets
    a stopped course count. Whether it was stopped or goes on is nothing the doses can tell: the number decides.
    """
    series = [dose for dose in doses if dose.purpose in SERIES]
    found = []
    for regimen in qualifying:
        routes = accepted_routes(regimen, qualifying, mixed=rules.mixed_routes)
        result = evaluate_series(regimen=regimen, doses=series, on=date.max, other_routes=routes)
        if result.complete_on is not None:
            found.append(Completion(result.complete_on, regimen))
    for regimen, course in _course_candidates(doses, post_exposure):
        taken_on = _counted_dates(evaluate_series(regimen=regimen, doses=course, on=date.max))
        enough = min(len(regimen.primary_steps), rules.stopped_course_doses or len(regimen.primary_steps))
        if len(taken_on) >= enough:
            found.append(Completion(taken_on[enough - 1], regimen))
    return tuple(sorted(found, key=lambda completion: (completion.complete_on, completion.regimen.code)))


def _course_candidates(
    doses: Sequence[DoseFact], post_exposure: Iterable[Regimen]
) -> Iterator[tuple[Regimen, list[DoseFact]]]:
    regimens = [regimen for regimen in post_exposure if regimen.purpose in PROVING]
    for course in _courses(doses):
        for regimen in regimens:
            if any(dose.regimen_code == regimen.code for dose in course):
                yield regimen, course


def _counted_dates(result: SeriesResult) -> list[date]:
    return [dose.dose.given_on for dose in result.doses if dose.counts]


def kept_days(completions: Sequence[Completion], doses: Iterable[DoseFact]) -> Intervals:
    """The dates on which no later dose of a complete series (such as the one at a year) is overdue.

    A later dose is due its planned gap after the last dose, and the series holds through the end of its window.
    Any dose from the completion onward may stand for that last dose, so one more dose only ever adds dates.
    Several complete series: one that holds is enough. So a site that wants the booster at a year withdraws its approval
    of the series without it. Dates before completion are included. Where only the month
    of a dose is known, its term begins on the month's last day and ends as if it had been given on the first.
    """
    if not completions:
        return ALWAYS
    given = _standing_doses(doses)
    windows = [window for completion in completions for window in _later_windows(completion, given)]
    return merge(_before(completions) + tuple(windows))


def checked_days(
    completions: Sequence[Completion],
    doses: Iterable[DoseFact],
    titres: Iterable[TitreFact],
    rules: ClearanceRules,
) -> Intervals:
    """The dates on which no re-check is overdue; with `recheck_months` 0 it never is.

    The term runs by the calendar from the completion, from every further dose and from every adequate titre,
    and lasts through its anniversary: the anniversary is the last day covered (decided here). Dates before
    completion are included. A term ends on the same day of a later month, or on that month's last day when it is
    shorter (add_months). Where only the month of a dose is known, the term begins on the month's last day and
    ends as if the dose had been given on the first.

    With `recheck_once` one re-check settles it: its term has no end. It is a booster 14 days or more after the
    completing dose or an adequate titre 12 months or more after it (ACIP 2022, sustained risk: a booster between
    day 21 and year 3 of a series of days 0 and 7, or a titre in years 1 to 3). A sooner one gives the usual term,
    and one that comes after the term has lapsed settles it from its own day on (decided here).
    """
    if not completions or rules.recheck_months == 0:
        return ALWAYS
    complete_on = completions[0].complete_on
    booster_from = add_days(complete_on, ONCE_BOOSTER_DAYS)
    titre_from = add_months(complete_on, ONCE_TITRE_MONTHS)
    starts = [
        (given.given_on, given.earliest_on, given.earliest_on >= booster_from)
        for given in _standing_doses(doses)
        if given.given_on >= complete_on
    ]
    starts += [
        (titre.taken_on, titre.taken_on, titre.taken_on >= titre_from) for titre in titres if titre.adequate
    ]
    terms = tuple(
        Interval(day, None if rules.recheck_once and settles else add_months(counted, rules.recheck_months))
        for day, counted, settles in starts
    )
    return merge(_before(completions) + terms)


def low_titre_days(titre: TitreFact, doses: Iterable[DoseFact]) -> Intervals:
    """The dates a low titre takes away: from the blood sample until the next dose, that day not included.

    A dose on the day of the sample is taken to follow it; one of which only the month is known follows it when
    even the month's first day does. A later adequate titre gives nothing back without a
    dose (decided here, on the side of caution).
    """
    if titre.adequate:
        return NEVER
    after = [given.given_on for given in _standing_doses(doses) if given.earliest_on >= titre.taken_on]
    dose_on = min(after, default=None)
    return subtract([Interval(titre.taken_on, None)], [Interval(dose_on, None)] if dose_on else [])


def _before(completions: Sequence[Completion]) -> Intervals:
    return subtract(ALWAYS, [Interval(completions[0].complete_on, None)])


def _standing_doses(doses: Iterable[DoseFact]) -> list[DoseFact]:
    """Doses of any purpose and route that may count, by date: to boost, any of them serves."""
    return sorted((dose for dose in doses if dose.stands), key=lambda dose: (dose.given_on, dose.month_only))


def _later_windows(completion: Completion, given: Sequence[DoseFact]) -> list[Interval]:
    windows = []
    reached = completion.complete_on
    before = completion.regimen.primary_steps[-1]
    for step in completion.regimen.later_steps:
        lasts = step.latest_day - before.day
        windows += [
            Interval(dose.given_on, end)
            for dose in given
            if dose.given_on >= reached and (end := add_days(dose.earliest_on, lasts)) >= dose.given_on
        ]
        counts_from = add_days(reached, step.gap)
        following = next((dose.given_on for dose in given if dose.earliest_on >= counts_from), None)
        if following is None:
            return windows
        reached, before = following, step
    return [*windows, Interval(reached, None)]


def _courses(doses: Iterable[DoseFact]) -> list[list[DoseFact]]:
    """Doses of courses that prove a series, by course; those without a course key are put together by regimen."""
    courses: dict[tuple[str, str], list[DoseFact]] = {}
    for dose in doses:
        if dose.purpose not in PROVING or not dose.stands:
            continue
        if dose.course_key is not None:
            courses.setdefault(("course", dose.course_key), []).append(dose)
        elif dose.regimen_code is not None:
            courses.setdefault(("regimen", dose.regimen_code), []).append(dose)
    return list(courses.values())
