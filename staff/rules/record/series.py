"""Which of the doses on record count towards a regimen, why others don't, and when the next may be given."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from staff.ground.dates import add_days
from staff.rules.regimen.values import DoseFact, Regimen, Route, Step


class DoseReason(StrEnum):
    """Why a dose does not count."""

    TOO_EARLY = "too-early"
    DATE_UNCERTAIN = "date-uncertain"
    VOIDED = "voided"
    FUTURE = "future"
    SAME_DAY = "same-day"
    ROUTE = "route"
    UNVERIFIED = "unverified"
    TOO_FEW_INJECTIONS = "too-few-injections"
    EXTRA = "extra"
    # Doses that no regimen judges, see staff.rules.record.dose_standing.
    NOT_APPROVED = "no-approved-regimen"
    NO_REGIMEN = "regimen-not-stated"
    BOOSTER = "booster"
    IMMUNISED_COURSE = "immunised-course"


@dataclass(frozen=True)
class DoseResult:
    """What became of one dose. `days` is how many days too early it was or may have been."""

    dose: DoseFact
    counts: bool
    step: int | None
    reason: DoseReason | None
    days: int | None


@dataclass(frozen=True)
class NextDose:
    """Earliest date that would count, planned date, and last date of the window."""

    number: int
    earliest_on: date
    due_on: date
    latest_on: date


@dataclass(frozen=True)
class SeriesResult:
    """`valid_doses` counts every step reached, later ones too; `doses` are in order of date given."""

    valid_doses: int
    complete_on: date | None
    next: NextDose | None
    doses: tuple[DoseResult, ...]


# Injections asked at each step of a route that the regimen itself does not name; empty: no such route counts.
OtherRoutes = Mapping[Route, tuple[int, ...]]
NO_OTHER_ROUTE: OtherRoutes = {}


def evaluate_series(
    *, regimen: Regimen, doses: Iterable[DoseFact], on: date, other_routes: OtherRoutes = NO_OTHER_ROUTE
) -> SeriesResult:
    """Lay the doses on record over the regimen, as things stand on `on`.

    `other_routes` comes from staff.rules.record.mixed at a site that accepts a change of route.

    Each dose, taken by date, counts as the next step when it is at least that step's smallest gap after the
    last dose that counted. No grace: a dose one day early does not count, and one on the day itself does
    (CDC CDSi 4.64 drops the general four-day tolerance for rabies vaccine; "exactly" is decided here). A late dose counts.

    Taking each dose as soon as it may count is also the best choice there is. Let g1 < g2 < ... be the dates it
    picks and c1 < c2 < ... any other pick that keeps the gaps. g1 <= c1; and if g(k-1) <= c(k-1), the dose of ck is
    at least the gap after g(k-1) too, so gk <= ck. Hence no other reading of the record completes the series
    sooner, one more dose can never make it complete later, and the order of entry cannot matter.

    Decided here: after a dose that came too early, the gap still runs from the last dose that counted. CDSi's
    general logic measures from the dose that did not count; for an inactivated vaccine that would let an
    extra dose make a person less protected on paper, and it would break the proof above.

    Decided here: a dose of which only the month is known counts from the month's last day, and only when it
    kept the gap even if it was given on the first. With e the first and d the last day it may have been given,
    a pick keeps its gap when e(k) - d(k-1) is the gap or more; the argument above holds with d for the date.

    Decided here: an unknown route or number of injections is accepted, for old certificates rarely give them;
    whether a bare date is evidence enough is the officer's judgement (`verified`). Injections of two entries
    of the same date are not added up, as one visit entered twice would look the same.
    """
    counted: list[date] = []
    results = []
    for dose in sorted(doses, key=lambda dose: _order(dose, regimen)):
        reason, days = _refusal(dose, regimen, counted, on, other_routes)
        if reason is None:
            counted.append(dose.given_on)
        step = len(counted) if reason is None else None
        results.append(DoseResult(dose, counts=reason is None, step=step, reason=reason, days=days))
    primary = len(regimen.primary_steps)
    return SeriesResult(
        valid_doses=len(counted),
        complete_on=counted[primary - 1] if len(counted) >= primary else None,
        next=_next_dose(regimen, counted, on),
        doses=tuple(results),
    )


def _refusal(
    dose: DoseFact, regimen: Regimen, counted: list[date], on: date, other_routes: OtherRoutes
) -> tuple[DoseReason | None, int | None]:
    """Why the dose cannot be the next step, and by how many days if it is too early; (None, None) when it can."""
    if dose.voided:
        return DoseReason.VOIDED, None
    if not dose.verified:
        return DoseReason.UNVERIFIED, None
    if dose.given_on > on or dose.written_ahead:
        return DoseReason.FUTURE, None
    if dose.route is not None and dose.route not in regimen.routes and dose.route not in other_routes:
        return DoseReason.ROUTE, None
    if counted and dose.given_on == counted[-1]:
        return DoseReason.SAME_DAY, None
    if len(counted) == len(regimen.steps):
        return DoseReason.EXTRA, None
    step = regimen.steps[len(counted)]
    if counted and (early := step.gap - (dose.earliest_on - counted[-1]).days) > 0:
        surely = step.gap > (dose.given_on - counted[-1]).days
        return DoseReason.TOO_EARLY if surely else DoseReason.DATE_UNCERTAIN, early
    if dose.injections is not None and dose.injections < _injections(dose, step, regimen, other_routes):
        return DoseReason.TOO_FEW_INJECTIONS, None
    return None, None


def _injections(dose: DoseFact, step: Step, regimen: Regimen, other_routes: OtherRoutes) -> int:
    """What the step asks by the route of the dose."""
    if dose.route is None or dose.route in regimen.routes:
        return step.injections
    return other_routes[dose.route][step.number - 1]


def _next_dose(regimen: Regimen, counted: list[date], on: date) -> NextDose | None:
    if len(counted) == len(regimen.steps):
        return None
    step = regimen.steps[len(counted)]
    if not counted:
        return NextDose(step.number, earliest_on=on, due_on=on, latest_on=on)
    due_on = add_days(counted[-1], regimen.planned_gap(len(counted)))
    return NextDose(
        step.number,
        earliest_on=add_days(counted[-1], step.gap),
        due_on=due_on,
        latest_on=add_days(due_on, step.window_days),
    )


def _order(dose: DoseFact, regimen: Regimen) -> tuple[object, ...]:
    """By date; on one date the entry likeliest to count comes first, then whatever tells two entries apart."""
    route_rank = 1 if dose.route is None else 0 if dose.route in regimen.routes else 2
    return (
        dose.given_on,
        not dose.stands,
        dose.month_only,
        route_rank,
        -(dose.injections or 0),
        dose.id or 0,
        dose.recorded_on or date.min,
        dose.purpose,
        dose.voided,
        dose.verified,
        dose.regimen_code or "",
        dose.course_key or "",
        dose.route or "",
        dose.injections is None,
    )
