"""One person's record laid out to be read: which doses count, what follows, when field work is possible."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from staff.models import Dose, Person
from staff.models import Regimen as RegimenRow
from staff.rules.record.immunity import qualifying_regimens
from staff.rules.record.intervals import Intervals
from staff.rules.record.series_reasons import choose_regimen
from staff.rules.regimen.values import Regimen
from staff.selectors.record.clear_from import ClearFrom, clear_from
from staff.selectors.record.outlook import Outlook, outlook
from staff.selectors.record.readiness import Readiness, clear_dates_of
from staff.selectors.record.records import RegimenBook, every_dose_of, facts_of
from staff.words import dose_words


@dataclass(frozen=True)
class DoseLine:
    """`counts` is None when no series judges the dose; `words` then say why."""

    dose: Dose
    counts: bool | None
    step: int | None
    words: str


@dataclass(frozen=True)
class RecordSheet:
    person: Person
    today: date
    readiness: Readiness
    intervals: Intervals
    regimen: Regimen | None
    lines: tuple[DoseLine, ...]
    outlook: Outlook | None
    clear_from: ClearFrom

    @property
    def regimen_code(self) -> str:
        """The code without the version, as addresses of the regimen's page have it."""
        return self.regimen.code.split("@")[0] if self.regimen else ""

    @property
    def regimen_name(self) -> str:
        """What people call the regimen; one query."""
        if self.regimen is None:
            return ""
        code, version = self.regimen.code.split("@")
        return str(RegimenRow.objects.values_list("name", flat=True).get(code=code, version=version))


def record_sheet(person: Person, today: date) -> RecordSheet:
    """Everything the page of one person shows, as things stand on `today` (the site's date)."""
    dates = clear_dates_of(person)
    row = dates.on(today)
    book = RegimenBook.for_sites([person.site])
    return RecordSheet(
        person=row.person,
        today=today,
        readiness=row,
        intervals=dates.intervals,
        regimen=series_regimen(row, book),
        lines=dose_lines(row.person, book),
        outlook=outlook(person=row.person, reasons=row.reasons, book=book, today=today),
        clear_from=clear_from([row], today)[0],
    )


def series_regimen(row: Readiness, book: RegimenBook) -> Regimen | None:
    """The regimen the reasons speak of, which is the one the doses are read by."""
    approved, rules = book.pre_exposure[row.person.site_id], row.person.site.rules
    serving = qualifying_regimens(approved, rules.doses_required) or qualifying_regimens(approved, 1)
    chosen = choose_regimen(facts_of(row.person).doses, serving, date.max, mixed=rules.mixed_routes)
    return chosen[0] if chosen else None


def dose_lines(person: Person, book: RegimenBook) -> tuple[DoseLine, ...]:
    """Every dose of the record, voided ones too, and what it counts as."""
    judged = {one.dose_id: one for one in book.judge_doses(person)}
    return tuple(
        DoseLine(dose, judged[dose.pk].counts, judged[dose.pk].step, dose_words(judged[dose.pk]))
        for dose in every_dose_of(person)
    )
