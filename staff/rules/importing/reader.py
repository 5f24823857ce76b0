"""From rows to people, their doses and briefings, with everything that can't be read by row and column."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from staff.ground.purposes import PURPOSES, Purpose
from staff.rules.importing.cells import ERROR, FORMULA, Cell, SheetRow, unkeepable
from staff.rules.importing.columns import Field, Mapped, one_row_a_dose
from staff.rules.importing.dates import DateFormat
from staff.rules.importing.days import DayParser
from staff.rules.importing.findings import Finding, Problem
from staff.rules.importing.people import SheetDose, SheetPerson, canonical_number
from staff.rules.regimen.values import Route

# Longest text kept of each field; a test holds these to the models.
LONGEST = {
    Field.NUMBER: 30, Field.NAME: 120, Field.EMAIL: 254, Field.PHONE: 40,
    Field.PRODUCT: 120, Field.BATCH: 60, Field.PLACE: 160,
}  # fmt: skip
_PERSON_FIELDS = (Field.NAME, Field.EMAIL, Field.PHONE)
_ROUTES = {
    "im": Route.IM, "i m": Route.IM, "intramuscular": Route.IM, "intramuscular im": Route.IM,
    "id": Route.ID, "i d": Route.ID, "intradermal": Route.ID, "intradermal id": Route.ID,
}  # fmt: skip
_PURPOSES = {word: row.purpose for row in PURPOSES.values() for word in row.list_words}


@dataclass
class SheetParser:
    """Takes the rows one by one; `people` (by staff number) and `findings` grow.

    `crew_roles` gives the code of a crew role by the word for it in lower case. `today` is the site's date,
    `earliest` the first date a dose or a briefing may bear.
    """

    mapping: Mapped
    date_format: DateFormat
    crew_roles: Mapping[str, str]
    today: date
    earliest: date
    people: dict[str, SheetPerson] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    _canonical: dict[str, str] = field(default_factory=dict)
    _days: DayParser = field(init=False)

    def __post_init__(self) -> None:
        self._days = DayParser(self.mapping, self.date_format, self.today, self.earliest, self.findings)

    def take(self, row: SheetRow) -> None:
        texts, unreadable = self._texts(row)
        number = texts.pop(Field.NUMBER, "")
        dates, briefing = self._days.doses(row), self._days.briefing(row)
        details = self._details(row, texts)
        roles = self._crew_roles(row)
        if not number:
            if Field.NUMBER not in unreadable:
                self._add(Problem.NUMBER_MISSING, row, Field.NUMBER)
            return
        person = self._person(number, row)
        person.unreadable |= unreadable
        for name in _PERSON_FIELDS:
            self._keep(person, name, texts.get(name, ""), row)
        person.crew_roles += [role for role in roles if role not in person.crew_roles]
        for column, day in dates:
            self._dose(person, SheetDose(day, row.number, column, **details))
        if briefing is not None:
            person.briefings.add(briefing)

    def finish(self) -> None:
        """Findings about whole columns, once every row is in."""
        self._days.mixed()

    def _column(self, name: Field) -> int:
        return next(column for column, mapped in self.mapping.items() if mapped is name)

    def _add(self, code: Problem, row: SheetRow, name: Field | int, **params: str | int | date) -> None:
        column = name if isinstance(name, int) else self._column(name)
        self.findings.append(Finding(code, row.number, column, params))

    def _texts(self, row: SheetRow) -> tuple[dict[Field, str], set[Field]]:
        """The texts of a row by field, and the fields whose cell can't be kept, each with its finding."""
        texts: dict[Field, str] = {}
        unreadable: set[Field] = set()
        for column, name in self.mapping.items():
            if name not in LONGEST:
                continue
            cell = row.cell(column)
            problem = _text_problem(cell, name)
            if problem is None:
                texts[name] = cell.shown
            else:
                self._add(problem, row, column, longest=LONGEST[name], length=len(cell.shown))
                unreadable.add(name)
        return texts, unreadable

    def _details(self, row: SheetRow, texts: dict[Field, str]) -> dict[str, str]:
        details = {str(name): texts.get(name, "") for name in (Field.PRODUCT, Field.BATCH, Field.PLACE)}
        details["route"] = self._word(row, Field.ROUTE, _ROUTES, Problem.ROUTE)
        told = self._word(row, Field.PURPOSE, _PURPOSES, Problem.PURPOSE)
        purpose = Purpose(told) if told else Purpose.PRE_EXPOSURE
        details["purpose"] = purpose
        if not PURPOSES[purpose].by_list:
            self._add(Problem.POST_EXPOSURE, row, Field.PURPOSE)
        given = any(texts.get(name) for name in (Field.PRODUCT, Field.BATCH)) or details["route"]
        if one_row_a_dose(self.mapping) and given and row.cell(self._column(Field.DOSE_DATE)).blank:
            self._add(Problem.DATE_MISSING, row, Field.DOSE_DATE)
        return details

    def _word(self, row: SheetRow, name: Field, words: Mapping[str, str], problem: Problem) -> str:
        if name not in self.mapping.values():
            return ""
        cell = row.cell(self._column(name))
        plain = " ".join(re.findall(r"[a-z]+", cell.text.casefold()))
        if cell.blank or plain in words:
            return words.get(plain, "")
        self._add(problem, row, name, text=cell.shown)
        return ""

    def _crew_roles(self, row: SheetRow) -> list[str]:
        if Field.CREW_ROLES not in self.mapping.values():
            return []
        cell = row.cell(self._column(Field.CREW_ROLES))
        if cell.fault or cell.day:
            self._add(Problem.CREW_ROLE, row, Field.CREW_ROLES, text=cell.shown)
            return []
        roles = []
        for word in (part.strip() for part in re.split(r"[,;/|+&\n]", cell.text)):
            if word and word.casefold() not in self.crew_roles:
                self._add(Problem.CREW_ROLE, row, Field.CREW_ROLES, text=word)
            elif word:
                roles.append(self.crew_roles[word.casefold()])
        return list(dict.fromkeys(roles))

    def _person(self, number: str, row: SheetRow) -> SheetPerson:
        written = self._canonical.setdefault(canonical_number(number), number)
        if written != number:
            self._add(Problem.NUMBER_VARIANT, row, Field.NUMBER, number=number, other=written)
        if number not in self.people:
            self.people[number] = SheetPerson(number, row.number)
        elif not one_row_a_dose(self.mapping):
            self._add(Problem.NUMBER_TWICE, row, Field.NUMBER, number=number, first=self.people[number].row)
        return self.people[number]

    def _keep(self, person: SheetPerson, name: Field, text: str, row: SheetRow) -> None:
        kept = person.texts.setdefault(name, text)
        if not kept:
            person.texts[name] = text
        elif text and text != kept and one_row_a_dose(self.mapping):
            self._add(Problem.DIFFERS_FROM_ROW, row, name, text=text, kept=kept, first=person.row)

    def _dose(self, person: SheetPerson, dose: SheetDose) -> None:
        same = next((other for other in person.doses if other.day == dose.day), None)
        if same is None:
            person.doses.append(dose)
        else:
            self.findings.append(
                Finding(Problem.DOSE_TWICE, dose.row, dose.column, {"day": dose.day, "first": same.row})
            )


def _text_problem(cell: Cell, name: Field) -> Problem | None:
    if cell.fault:
        return {FORMULA: Problem.CELL_FORMULA, ERROR: Problem.CELL_ERROR}[cell.fault]
    text = cell.shown
    if unkeepable(text):
        return Problem.CELL_CONTROL
    # Text that a spreadsheet program would run as a formula when this record is exported and opened there.
    if text.startswith(("=", "@")) or (name is not Field.PHONE and text.startswith(("+", "-"))):
        return Problem.CELL_ACTIVE
    return Problem.TOO_LONG if len(text) > LONGEST[name] else None
