"""One person's record laid out to be read: which doses count, what follows, when field work is possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from staff.models import Dose, Person, Purpose
from staff.rules import values
from staff.rules.immunity import qualifying_regimens
from staff.rules.intervals import Intervals
from staff.rules.series import DoseResult, evaluate_series
from staff.rules.values import Regimen
from staff.selectors.outlook import Outlook, outlook
from staff.selectors.readiness import Readiness, readiness
from staff.selectors.records import RegimenBook, facts_of
from staff.words import dose_words


@dataclass(frozen=True)
class DoseLine:
    """`counts` is None when no approved regimen judges the dose (a booster, or none is approved)."""

    dose: Dose
    counts: bool | None
    step: int | None
    words: str


@dataclass(frozen=True)
class Standing:
    person: Person
    today: date
    readiness: Readiness
    intervals: Intervals
    regimen: Regimen | None
    lines: tuple[DoseLine, ...]
    outlook: Outlook | None


def standing(person: Person, today: date) -> Standing:
    """Everything the page of one person shows, as things stand on `today` (the site's date)."""
    row = readiness(Person.objects.filter(pk=person.pk), today, [person.site])[0]
    book = RegimenBook.for_sites([person.site])
    regimen = _series_regimen(row, book)
    return Standing(
        person=row.person,
        today=today,
        readiness=row,
        intervals=book.judge(row.person).intervals,
        regimen=regimen,
        lines=_lines(row.person, regimen, book, today),
        outlook=outlook(person=row.person, reasons=row.reasons, book=book, today=today, on=today),
    )


def _series_regimen(row: Readiness, book: RegimenBook) -> Regimen | None:
    """The regimen the reasons speak of; else the one complete first, else the one with most doses."""
    approved = book.pre_exposure[row.person.site_id]
    named = {reason.params.get("regimen") for reason in row.reasons}
    doses = [dose for dose in facts_of(row.person).doses if dose.purpose is values.Purpose.PRE_EXPOSURE]

    def rank(regimen: Regimen) -> tuple[bool, date, int, str]:
        result = evaluate_series(regimen=regimen, doses=doses, on=row.on)
        return (
            regimen.code not in named,
            result.complete_on or date.max,
            -result.valid_doses,
            regimen.code,
        )

    serving = qualifying_regimens(approved, row.person.site.rules.doses_required) or tuple(approved)
    return min(serving, key=rank, default=None)


def _lines(person: Person, regimen: Regimen | None, book: RegimenBook, today: date) -> tuple[DoseLine, ...]:
    doses = list(person.doses.all())
    judged: dict[int, DoseResult] = {}
    if regimen is not None:
        judged |= _judge(regimen, [dose for dose in doses if dose.purpose == Purpose.PRE_EXPOSURE], today)
    by_code = {rule.code: rule for rule in book.post_exposure}
    for code, course in _courses(doses).items():
        judged |= _judge(by_code[code[1]], course, today)
    return tuple(_line(dose, judged.get(dose.pk)) for dose in doses)


def _judge(regimen: Regimen, doses: Sequence[Dose], today: date) -> dict[int, DoseResult]:
    result = evaluate_series(regimen=regimen, doses=[dose.as_fact() for dose in doses], on=today)
    return {one.dose.id: one for one in result.doses if one.dose.id is not None}


def _courses(doses: Sequence[Dose]) -> dict[tuple[str, str], list[Dose]]:
    """Post-exposure doses that name their regimen, by course and regimen."""
    courses: dict[tuple[str, str], list[Dose]] = {}
    for dose in doses:
        code = dose.as_fact().regimen_code
        if code is not None and dose.purpose in (Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED):
            courses.setdefault((str(dose.course_key or ""), code), []).append(dose)
    return courses


def _line(dose: Dose, result: DoseResult | None) -> DoseLine:
    if result is None:
        return DoseLine(dose, False if dose.voided_at else None, None, "")
    return DoseLine(dose, result.counts, result.step, dose_words(result))
