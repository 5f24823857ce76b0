"""What is still missing from somebody's series on a date, in codes and figures."""

from collections.abc import Sequence
from datetime import date

from staff.ground.dates import add_days
from staff.ground.purposes import SERIES
from staff.rules.record.facts import ClearanceRules, PersonFacts
from staff.rules.record.immunity import qualifying_regimens
from staff.rules.record.mixed import accepted_routes
from staff.rules.record.reasons import Params, Reason, ReasonCode
from staff.rules.record.series import NextDose, SeriesResult, evaluate_series
from staff.rules.regimen.values import DoseFact, Regimen


def explain_series(
    day: date,
    *,
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
    complete_on: date | None,
    clear_from: date | None,
) -> tuple[Reason, ...]:
    """Why the series does not allow `day`, reading only the doses given by then.

    The regimen shown is the one `choose_regimen` names. Nothing is proposed to somebody immunocompromised: the
    reason then says how far the series is and no more, for the next dose is the clinician's to order.
    """
    if complete_on is not None and complete_on <= day:
        return (Reason(ReasonCode.SETTLING, Params(complete_on=complete_on, clear_from=clear_from)),)
    qualifying = qualifying_regimens(pre_exposure, rules.doses_required)
    chosen = choose_regimen(facts.doses, qualifying, day, mixed=rules.mixed_routes)
    if chosen is None:
        return (Reason(ReasonCode.NO_APPROVED_REGIMEN, Params(required=rules.doses_required)),)
    regimen, result = chosen
    if result.next is None:
        raise AssertionError(f"regimen {regimen.code} is complete on {day} and was called incomplete")
    if result.valid_doses == 0:
        code = ReasonCode.NO_DOSES
    else:
        short = _completes_a_shorter_one(facts.doses, pre_exposure, day, rules)
        code = ReasonCode.TOO_FEW_DOSES if short else ReasonCode.SERIES_INCOMPLETE
    following = None if facts.immunocompromised else result.next
    recorded = sum(1 for dose in facts.doses if dose.given_on <= day)
    return (Reason(code, _progress(regimen, result, following, rules.doses_required, recorded)),)


def choose_regimen(
    doses: Sequence[DoseFact], qualifying: Sequence[Regimen], day: date, *, mixed: bool
) -> tuple[Regimen, SeriesResult] | None:
    """The regimen somebody's pre-exposure doses are read by, as of `day`: the one complete first; else one named
    on the doses; else the one that can be complete soonest; else the one of the routes they were given by. None when
    none qualifies."""
    taken = [dose for dose in doses if dose.purpose in SERIES]
    named = {dose.regimen_code for dose in taken if dose.stands and dose.given_on <= day}

    def rank(option: tuple[Regimen, SeriesResult]) -> tuple[date, bool, date, int, str]:
        regimen, result = option
        return (
            result.complete_on or date.max,
            regimen.code not in named,
            _soonest(regimen, result.next) if result.next else date.min,
            sum(dose.route not in regimen.routes for dose in taken),
            regimen.code,
        )

    return min(
        (
            (
                regimen,
                evaluate_series(
                    regimen=regimen,
                    doses=taken,
                    on=day,
                    other_routes=accepted_routes(regimen, qualifying, mixed=mixed),
                ),
            )
            for regimen in qualifying
        ),
        key=rank,
        default=None,
    )


def _completes_a_shorter_one(
    doses: Sequence[DoseFact], pre_exposure: Sequence[Regimen], day: date, rules: ClearanceRules
) -> bool:
    chosen = choose_regimen(doses, qualifying_regimens(pre_exposure, 1), day, mixed=rules.mixed_routes)
    return chosen is not None and chosen[1].complete_on is not None


def _soonest(regimen: Regimen, following: NextDose) -> date:
    """The first date on which the regimen could be complete if every dose came as early as it may."""
    rest = sum(step.gap for step in regimen.primary_steps if step.number > following.number)
    return add_days(following.earliest_on, rest)


def _progress(
    regimen: Regimen, result: SeriesResult, following: NextDose | None, required: int, recorded: int
) -> Params:
    return Params(
        valid=result.valid_doses,
        recorded=recorded,
        required=required,
        regimen=regimen.code if following else None,
        number=following.number if following else None,
        earliest_on=following.earliest_on if following else None,
        due_on=following.due_on if following else None,
        latest_on=following.latest_on if following else None,
    )
