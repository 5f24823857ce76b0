"""The doses that remain, on the dates the regimen plans, and what would make somebody clear."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from staff.models import Person
from staff.rules.immunity import series_routes
from staff.rules.outlook import Way, earliest_clear
from staff.rules.reasons import Reason
from staff.rules.series import NO_OTHER_ROUTE, NextDose, OtherRoutes, evaluate_series
from staff.rules.values import DoseFact, Purpose, Regimen, Route
from staff.selectors.records import RegimenBook, facts_of


@dataclass(frozen=True)
class Outlook:
    """The doses that remain of a regimen, each on its due date (or today when that is past)."""

    regimen: Regimen
    doses: tuple[NextDose, ...]


def outlook(*, person: Person, reasons: Iterable[Reason], book: RegimenBook, today: date) -> Outlook | None:
    """None when no dose is missing.

    `today` is the site's date: a missing dose can't be given before it. `person` comes from `with_record`.
    """
    named = {str(reason.params["regimen"]) for reason in reasons if "regimen" in reason.params}
    regimen = next((row for row in book.pre_exposure[person.site_id] if row.code in named), None)
    if regimen is None:
        return None
    facts = facts_of(person)
    taken = [dose for dose in facts.doses if dose.purpose is Purpose.PRE_EXPOSURE and dose.stands]
    rules, approved = person.site.rules.for_clearance(), book.pre_exposure[person.site_id]
    return Outlook(regimen, remaining_doses(regimen, taken, today, series_routes(regimen, approved, rules)))


def remaining_doses(
    regimen: Regimen, taken: Iterable[DoseFact], today: date, other_routes: OtherRoutes = NO_OTHER_ROUTE
) -> tuple[NextDose, ...]:
    """The steps that still make the series complete, dated from the doses `taken`, none before `today`.

    `latest_on` stays where the window ends, so a dose whose `due_on` lies after it is overdue.
    """
    doses = list(taken)
    missing: list[NextDose] = []
    for _step in regimen.primary_steps:
        result = evaluate_series(regimen=regimen, doses=doses, on=date.max, other_routes=other_routes)
        if result.complete_on is not None or result.next is None:
            break
        following = result.next
        if following.number == 1:
            following = NextDose(1, today, today, today)
        day = max(following.due_on, today)
        missing.append(replace(following, due_on=day))
        doses.append(DoseFact(given_on=day))
    return tuple(missing)


def way_to_clear(
    *,
    person: Person,
    book: RegimenBook,
    today: date,
    on: date,
    plan_by: Regimen | None = None,
    route: Route | None = None,
) -> Way:
    """What must happen for this person to be clear on `on` or as soon as can be after it, from `today` on.

    `plan_by` and `route` plan the missing doses by one regimen; without them whatever is complete first.
    `person` comes from `with_record`.
    """
    return earliest_clear(
        facts=facts_of(person),
        rules=person.site.rules.for_clearance(),
        pre_exposure=book.pre_exposure[person.site_id],
        post_exposure=book.post_exposure,
        today=today,
        on=on,
        plan_by=[plan_by] if plan_by else None,
        route=route,
    )
