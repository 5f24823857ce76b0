"""What became of every dose on somebody's record, whatever its purpose, and why a dose doesn't count."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from staff.ground.purposes import COURSES, PURPOSES, Purpose
from staff.rules.record.facts import ClearanceRules, PersonFacts
from staff.rules.record.immunity import qualifying_regimens
from staff.rules.record.series import DoseReason, DoseResult, evaluate_series
from staff.rules.record.series_reasons import choose_regimen
from staff.rules.regimen.values import DoseFact, Regimen

_UNREAD = {row.purpose: DoseReason(row.unread) for row in PURPOSES.values()}


@dataclass(frozen=True)
class DoseJudgement:
    """One dose. `counts` None: no series judges it, and `reason` says why; a dose that counts has no reason.

    `regimen` is code@version. `days` goes with too-early (days too early) and date-uncertain (at most so many).
    """

    dose_id: int
    counts: bool | None
    step: int | None
    regimen: str | None
    reason: DoseReason | None
    days: int | None


def judge_doses(
    *,
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
    post_exposure: Sequence[Regimen],
) -> tuple[DoseJudgement, ...]:
    """Every dose of the record, by id. Depends on the record and the rules alone, never on today.

    Pre-exposure doses are read by `choose_regimen`: among the regimens with the doses the site asks for, or
    among all approved ones when there is no such. A course is read by the regimen its doses name.
    """
    judged: dict[int, DoseJudgement] = {}
    for regimen, results in _results(facts, rules, pre_exposure, post_exposure):
        for result in results:
            one = _judged(regimen, result)
            before = judged.get(one.dose_id)
            # A course entered under two regimens: what one of them counts, counts.
            if before is None or (one.counts and not before.counts):
                judged[one.dose_id] = one
    for dose in facts.doses:
        if dose.id is not None and dose.id not in judged:
            judged[dose.id] = _unjudged(dose)
    return tuple(judged[key] for key in sorted(judged))


def _results(
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
    post_exposure: Sequence[Regimen],
) -> list[tuple[Regimen, tuple[DoseResult, ...]]]:
    serving = qualifying_regimens(pre_exposure, rules.doses_required) or qualifying_regimens(pre_exposure, 1)
    chosen = choose_regimen(facts.doses, serving, date.max, mixed=rules.mixed_routes)
    found = [] if chosen is None else [(chosen[0], chosen[1].doses)]
    by_code = {regimen.code: regimen for regimen in post_exposure}
    for code, course in _courses(facts.doses):
        if code in by_code:
            found.append(
                (by_code[code], evaluate_series(regimen=by_code[code], doses=course, on=date.max).doses)
            )
    return found


def _courses(doses: Sequence[DoseFact]) -> list[tuple[str, list[DoseFact]]]:
    """Every course with each regimen named in it; without a course key the regimen ties the doses together."""
    courses: dict[tuple[Purpose, str], list[DoseFact]] = {}
    for dose in doses:
        if dose.purpose in COURSES and (tied_by := dose.course_key or dose.regimen_code):
            courses.setdefault((dose.purpose, tied_by), []).append(dose)
    return [
        (code, course)
        for course in courses.values()
        for code in sorted({dose.regimen_code for dose in course if dose.regimen_code})
    ]


def _judged(regimen: Regimen, result: DoseResult) -> DoseJudgement:
    if result.dose.id is None:
        raise ValueError("a dose without an id can't be judged: its standing could not be stored")
    return DoseJudgement(
        dose_id=result.dose.id,
        counts=result.counts,
        step=result.step,
        regimen=regimen.code,
        reason=result.reason,
        days=result.days,
    )


def _unjudged(dose: DoseFact) -> DoseJudgement:
    assert dose.id is not None
    reason = _fault(dose)
    counts = None if reason is None else False
    if reason is None:
        reason = _UNREAD[dose.purpose]
    return DoseJudgement(dose.id, counts=counts, step=None, regimen=None, reason=reason, days=None)


def _fault(dose: DoseFact) -> DoseReason | None:
    """What is wrong with the entry itself, whatever the regimen; the same order as in a series."""
    if dose.voided:
        return DoseReason.VOIDED
    if not dose.verified:
        return DoseReason.UNVERIFIED
    return DoseReason.FUTURE if dose.written_ahead else None
