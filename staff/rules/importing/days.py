"""The dates of a row: doses and safety briefings, each with what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from staff.rules.importing.cells import Cell, SheetRow
from staff.rules.importing.columns import NUMBERED_DOSES, Field, Mapped, one_row_a_dose
from staff.rules.importing.dates import DateFormat, Unreadable, read_date
from staff.rules.importing.findings import Finding, Note, Problem


@dataclass
class DayParser:
    """Reads dates cell by cell; `findings` grow.

    `today` is the site's date, `earliest` the first date that may be told.
    """

    mapping: Mapped
    date_format: DateFormat
    today: date
    earliest: date
    findings: list[Finding]
    _kinds: dict[int, set[str]] = field(default_factory=dict)

    def doses(self, row: SheetRow) -> list[tuple[int, date]]:
        """Column and day of every dose date of the row that can be read."""
        columns = (
            column
            for column, name in self.mapping.items()
            if name is Field.DOSE_DATE or name in NUMBERED_DOSES
        )
        days = ((column, self._day(row, column, Problem.DATE_FUTURE)) for column in columns)
        found = [(column, day) for column, day in days if day is not None]
        if not one_row_a_dose(self.mapping):
            self._note_order(row, found)
        return found

    def briefing(self, row: SheetRow) -> date | None:
        """The day of the row's safety briefing, when it names one that can be read."""
        column = next((column for column, name in self.mapping.items() if name is Field.BRIEFING), None)
        return None if column is None else self._day(row, column, Problem.BRIEFING_FUTURE)

    def mixed(self) -> None:
        """Note every column that holds real dates beside written ones, once all rows are read."""
        for column, kinds in sorted(self._kinds.items()):
            if kinds == {"real", "written"}:
                self.findings.append(Finding(Note.MIXED_DATES, column=column))

    def _day(self, row: SheetRow, column: int, in_future: Problem) -> date | None:
        cell = row.cell(column)
        if cell.blank:
            return None
        try:
            day = self._possible(cell, in_future)
        except Unreadable as unreadable:
            self.findings.append(Finding(unreadable.problem, row.number, column, {"text": cell.shown}))
            return None
        if cell.day or not cell.text.startswith(str(day.year)):
            self._kinds.setdefault(column, set()).add("real" if cell.day else "written")
        return day

    def _possible(self, cell: Cell, in_future: Problem) -> date:
        day = read_date(cell, self.date_format)
        if day > self.today:
            raise Unreadable(in_future)
        if day < self.earliest:
            raise Unreadable(Problem.DATE_TOO_OLD)
        return day

    def _note_order(self, row: SheetRow, found: list[tuple[int, date]]) -> None:
        by_number = sorted(found, key=lambda item: NUMBERED_DOSES.index(self.mapping[item[0]]))
        for (_, before), (column, day) in zip(by_number, by_number[1:], strict=False):
            if day < before:
                self.findings.append(Finding(Note.OUT_OF_ORDER, row.number, column))
        if by_number:
            last = NUMBERED_DOSES.index(self.mapping[by_number[-1][0]])
            for column, name in self.mapping.items():
                if name in NUMBERED_DOSES[:last] and row.cell(column).blank:
                    self.findings.append(Finding(Note.DOSE_SKIPPED, row.number, column))
