"""What is still missing from somebody's series on a date, in codes and figures."""

from collections.abc import Sequence
from datetime import date

from staff.rules.dates import add_days
from staff.rules.immunity import qualifying_regimens
from staff.rules.reasons import Params, Reason, ReasonCode
from staff.rules.series import NextDose, SeriesResult, evaluate_series
from staff.rules.values import DoseFact, Purpose, Regimen


def explain_series(
    day: date,
    *,
    doses: Sequence[DoseFact],
    required: int,
    pre_exposure: Sequence[Regimen],
    complete_on: date | None,
    clear_from: date | None,
) -> tuple[Reason, ...]:
    """Why the series does not allow `day`, reading only the doses given by then.

    The regimen shown is the one named on the person's doses, else the one that can be complete soonest.
    """
    if complete_on is not None and complete_on <= day:
        return (Reason(ReasonCode.SETTLING, Params(complete_on=complete_on, clear_from=clear_from)),)
    qualifying = qualifying_regimens(pre_exposure, required)
    if not qualifying:
        return (Reason(ReasonCode.NO_APPROVED_REGIMEN, Params(required=required)),)
    taken = [dose for dose in doses if dose.purpose is Purpose.PRE_EXPOSURE]
    named = {dose.regimen_code for dose in taken if dose.stands and dose.given_on <= day}
    regimen, result, following = min(
        (_standing(regimen, taken, day) for regimen in qualifying),
        key=lambda option: (option[0].code not in named, _soonest(option[0], option[2]), option[0].code),
    )
    short = any(
        evaluate_series(regimen=other, doses=taken, on=day).complete_on is not None
        for other in pre_exposure
        if other.purpose is Purpose.PRE_EXPOSURE
    )
    if result.valid_doses == 0:
        code = ReasonCode.NO_DOSES
    else:
        code = ReasonCode.TOO_FEW_DOSES if short else ReasonCode.SERIES_INCOMPLETE
    recorded = sum(1 for dose in doses if dose.given_on <= day)
    return (Reason(code, _progress(regimen, result, following, required, recorded)),)


def _standing(
    regimen: Regimen, doses: Sequence[DoseFact], day: date
) -> tuple[Regimen, SeriesResult, NextDose]:
    result = evaluate_series(regimen=regimen, doses=doses, on=day)
    if result.next is None:
        raise AssertionError(f"regimen {regimen.code} is complete on {day} and was called incomplete")
    return regimen, result, result.next


def _soonest(regimen: Regimen, following: NextDose) -> date:
    """The first date on which the regimen could be complete if every dose came as early as it may."""
    rest = sum(step.gap for step in regimen.primary_steps if step.number > following.number)
    return add_days(following.earliest_on, rest)


def _progress(
    regimen: Regimen, result: SeriesResult, following: NextDose, required: int, recorded: int
) -> Params:
    return Params(
        valid=result.valid_doses,
        recorded=recorded,
        required=required,
        regimen=regimen.code,
        number=following.number,
        earliest_on=following.earliest_on,
        due_on=following.due_on,
        latest_on=following.latest_on,
    )
