"""The series and clearance rules said again the slow way: every choice of doses, one day at a time."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import combinations, pairwise

from dateutil.relativedelta import relativedelta

from staff.rules.record.clearance import ClearanceRules, PersonFacts
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route

# Injections by route and step that a site with mixed routes asks of a route the regimen doesn't name.
Asked = dict[Route, tuple[int, ...]]


def reading_holds(reading: tuple[DoseFact, ...], regimen: Regimen, other: Asked) -> bool:
    """Whether these doses, in this order, are the first steps of the regimen."""
    gaps_hold = all(
        (first_day(after) - before.given_on).days >= max(1, step.smallest_gap)
        for (before, after), step in zip(pairwise(reading), regimen.steps[1:], strict=False)
    )
    return gaps_hold and all(
        dose.injections is None
        or dose.injections >= (other[dose.route][at] if dose.route in other else regimen.steps[at].injections)
        for at, dose in enumerate(reading)
    )


def first_day(dose: DoseFact) -> date:
    """The first day on which the dose may have been given."""
    return date(dose.given_on.year, dose.given_on.month, 1) if dose.month_only else dose.given_on


def by_other_routes(regimen: Regimen, approved: Sequence[Regimen]) -> Asked:
    """Each route the regimen doesn't name, with the most injections any approved regimen of that route asks."""
    asked: Asked = {}
    for route in set(Route) - regimen.routes:
        alike = [o for o in approved if route in o.routes and len(o.steps) == len(regimen.steps)]
        if alike:
            asked[route] = tuple(
                max(o.steps[at].injections for o in alike) for at in range(len(regimen.steps))
            )
    return asked


def earliest_by_search(
    record: list[DoseFact], regimen: Regimen, today: date, steps: int, other: Asked | None = None
) -> date | None:
    """The first date on which any choice of doses reaches `steps` steps."""
    usable = [
        dose
        for dose in record
        if not dose.voided and dose.verified and dose.given_on <= today
        if dose.recorded_on is None or dose.given_on <= dose.recorded_on
        if dose.route is None or dose.route in regimen.routes or dose.route in (other or {})
    ]
    usable.sort(key=lambda dose: dose.given_on)
    ends = [r[-1].given_on for r in combinations(usable, steps) if reading_holds(r, regimen, other or {})]
    return min(ends, default=None)


def clear_by_definition(
    facts: PersonFacts, rules: ClearanceRules, pre: Sequence[Regimen], post: Sequence[Regimen], day: date
) -> bool:
    """Whether the person is clear on `day`; regimens may have one later dose at most."""
    completions = complete_dates(facts.doses, rules, pre, post)
    if not completions or day < completions[0][0] + timedelta(days=rules.settling_days):
        return False
    return (
        (
            not facts.immunocompromised
            or any(one.verified and one.signed_on <= day <= one.valid_until for one in facts.letters)
        )
        and (not rules.lapse_blocks or nothing_lapsed(facts, rules, completions, day))
        and (
            rules.briefing_months is None
            or any(in_term(b.held_on, rules.briefing_months, day) for b in facts.briefings)
        )
        and not any(h.starts_on <= day and (h.ends_on is None or day <= h.ends_on) for h in facts.holds)
        and (facts.active_from is None or facts.active_from <= day)
        and (facts.active_until is None or day <= facts.active_until)
    )


def complete_dates(
    doses: Sequence[DoseFact], rules: ClearanceRules, pre: Sequence[Regimen], post: Sequence[Regimen]
) -> list[tuple[date, Regimen]]:
    before = [dose for dose in doses if dose.purpose is Purpose.PRE_EXPOSURE]
    readings = [(before, r) for r in pre if len(r.primary_steps) >= rules.doses_required]
    after = [d for d in doses if d.purpose is Purpose.POST_EXPOSURE and d.stands]
    for regimen in post:
        keys = {d.course_key for d in after if d.course_key and d.regimen_code == regimen.code}
        readings += [([d for d in after if d.course_key == key], regimen) for key in keys]
        unkeyed = [d for d in after if d.course_key is None and d.regimen_code == regimen.code]
        readings.append((unkeyed, regimen))
    found = []
    for reading, regimen in readings:
        steps, other = len(regimen.primary_steps), None
        if regimen.purpose is Purpose.POST_EXPOSURE and rules.stopped_course_doses:
            steps = min(steps, rules.stopped_course_doses)
        if regimen.purpose is Purpose.PRE_EXPOSURE and rules.mixed_routes:
            other = by_other_routes(regimen, [r for r in pre if len(r.primary_steps) >= rules.doses_required])
        found.append((earliest_by_search(reading, regimen, date.max, steps, other), regimen))
    return sorted(((day, r) for day, r in found if day), key=lambda pair: pair[0])


def nothing_lapsed(
    facts: PersonFacts, rules: ClearanceRules, completions: Sequence[tuple[date, Regimen]], day: date
) -> bool:
    given = [dose for dose in facts.doses if dose.stands and dose.given_on <= day]
    starts = [(d.given_on, first_day(d)) for d in given if d.given_on >= completions[0][0]]
    starts += [(t.taken_on, t.taken_on) for t in facts.titres if t.iu_per_ml * 2 >= 1]
    low = [t.taken_on for t in facts.titres if t.iu_per_ml * 2 < 1 and t.taken_on <= day]
    return (
        any(later_dose_kept(complete_on, regimen, given, day) for complete_on, regimen in completions)
        and (
            rules.recheck_months == 0
            or any(s <= day and in_term(t, rules.recheck_months, day) for s, t in starts)
            or (rules.recheck_once and settled_once(facts, given, completions[0][0], day))
        )
        and all(any(taken_on <= first_day(d) for d in given) for taken_on in low)
    )


def settled_once(facts: PersonFacts, given: Sequence[DoseFact], complete_on: date, day: date) -> bool:
    """ACIP 2022, sustained risk: a booster 14 days after the completing dose, or a titre a year after it."""
    a_year_on = complete_on + relativedelta(years=1)
    return any((first_day(dose) - complete_on).days >= 14 for dose in given) or any(
        titre.iu_per_ml * 2 >= 1 and a_year_on <= titre.taken_on <= day for titre in facts.titres
    )


def later_dose_kept(complete_on: date, regimen: Regimen, given: Sequence[DoseFact], day: date) -> bool:
    if complete_on > day or not regimen.later_steps:
        return complete_on <= day
    later, last = regimen.later_steps[0], regimen.primary_steps[-1]
    return any(
        (d.given_on >= complete_on and (day - first_day(d)).days <= later.latest_day - last.day)
        or (first_day(d) - complete_on).days >= later.smallest_gap
        for d in given
    )


def in_term(start: date, months: int, day: date) -> bool:
    return start <= day and (months == 0 or day <= start + relativedelta(months=months))
