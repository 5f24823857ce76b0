"""The doses that remain, on the dates the regimen plans, and what would make somebody clear."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from staff.models import Person
from staff.rules.record.immunity import series_routes
from staff.rules.record.missing import remaining_doses
from staff.rules.record.outlook import Way, earliest_clear
from staff.rules.record.reasons import Reason
from staff.rules.record.series import NextDose
from staff.rules.regimen.values import Regimen, Route
from staff.selectors.record.records import RegimenBook, facts_of


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
    rules, approved = person.site.rules.for_clearance(), book.pre_exposure[person.site_id]
    routes = series_routes(regimen, approved, rules)
    doses = facts_of(person).doses
    return Outlook(regimen, remaining_doses(doses, regimen, today, planned=True, other_routes=routes))


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
