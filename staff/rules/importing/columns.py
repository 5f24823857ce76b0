"""Which column holds what: guessed from the headers, decided by the officer."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from enum import StrEnum

from staff.rules.importing.findings import Finding, Note, Problem

DOSES_A_ROW = 6


class Field(StrEnum):
    NUMBER = "number"
    NAME = "name"
    EMAIL = "email"
    PHONE = "phone"
    CREW_ROLES = "crew-roles"
    ROUTE = "route"
    PURPOSE = "purpose"
    PRODUCT = "product"
    BATCH = "batch"
    PLACE = "place"
    DOSE_DATE = "dose-date"
    DOSE_1 = "dose-1"
    DOSE_2 = "dose-2"
    DOSE_3 = "dose-3"
    DOSE_4 = "dose-4"
    DOSE_5 = "dose-5"
    DOSE_6 = "dose-6"
    BRIEFING = "briefing"


NUMBERED_DOSES = (Field.DOSE_1, Field.DOSE_2, Field.DOSE_3, Field.DOSE_4, Field.DOSE_5, Field.DOSE_6)
Mapped = Mapping[int, Field]

_HEADERS: dict[Field, tuple[str, ...]] = {
    Field.NUMBER: (
        "number", "no", "nr", "staff number", "staff no", "staff nr", "staff id", "personnel number", "id", "badge",
    ),
    Field.NAME: ("name", "full name", "person", "staff name", "name of person"),
    Field.EMAIL: ("e mail", "email", "mail", "e mail address", "email address"),
    Field.PHONE: ("telephone", "phone", "mobile", "tel", "telephone number", "phone number", "mobile number"),
    Field.CREW_ROLES: ("crew roles", "crew role", "roles", "role", "duty", "duties"),
    Field.ROUTE: ("route", "route of administration", "im id"),
    Field.PURPOSE: ("purpose", "kind of dose"),
    Field.PRODUCT: ("product", "vaccine", "vaccine product"),
    Field.BATCH: ("batch", "lot", "batch number", "batch no", "lot number", "lot no"),
    Field.PLACE: ("place", "where", "clinic", "given at", "where given", "place given"),
    Field.BRIEFING: (
        "safety briefing", "briefing", "briefing date", "date of briefing", "safety briefing date",
        "date of safety briefing", "briefed on", "briefing held on", "safety briefing on",
    ),
    Field.DOSE_DATE: ("dose date", "date of dose", "date given", "given on", "date", "vaccination date"),
}  # fmt: skip
_BY_HEADER = {header: field for field, headers in _HEADERS.items() for header in headers}
_ORDINALS = {
    word: number
    for number, words in enumerate(
        (("1", "1st", "first"), ("2", "2nd", "second"), ("3", "3rd", "third"), ("4", "4th", "fourth"),
         ("5", "5th", "fifth"), ("6", "6th", "sixth")), start=1,
    )
    for word in words
}  # fmt: skip
_DOSE_WORDS = frozenset({"dose", "date", "of", "the", "given", "on"})


def _plain(header: str) -> str:
    """Lower case without accents and signs, words parted by one space."""
    text = unicodedata.normalize("NFKD", header.casefold())
    text = "".join(character for character in text if not unicodedata.combining(character))
    return " ".join(re.findall(r"[a-z]+|[0-9]+(?:st|nd|rd|th)?", text))


def guess_field(header: str) -> Field | None:
    """The field a header names, in any case and punctuation; None when it names none we know."""
    plain = _plain(header)
    if plain in _BY_HEADER:
        return _BY_HEADER[plain]
    words = plain.split()
    numbers = [_ORDINALS[word] for word in words if word in _ORDINALS]
    if "dose" in words and len(numbers) == 1 and set(words) - set(_ORDINALS) <= _DOSE_WORDS:
        return NUMBERED_DOSES[numbers[0] - 1]
    return None


def guess_mapping(headers: Sequence[str]) -> dict[int, Field]:
    """Field by column counted from 0; of two columns with one meaning the first is taken, the other is not read."""
    mapping: dict[int, Field] = {}
    for column, header in enumerate(headers):
        field = guess_field(header)
        if field is not None and field not in mapping.values():
            mapping[column] = field
    return mapping


def one_row_a_dose(mapping: Mapped) -> bool:
    return Field.DOSE_DATE in mapping.values()


def check_mapping(headers: Sequence[str], mapping: Mapped) -> list[Finding]:
    """What the choice of columns lacks or says twice, and the columns that aren't read."""
    chosen = list(mapping.values())
    found: list[Finding] = []
    if Field.NUMBER not in chosen:
        found.append(Finding(Problem.NO_NUMBER_COLUMN))
    for column, field in mapping.items():
        if chosen.index(field) != list(mapping).index(column):
            found.append(Finding(Problem.FIELD_TWICE, column=column, params={"field": field}))
    numbered = [field for field in chosen if field in NUMBERED_DOSES]
    if numbered and one_row_a_dose(mapping):
        found.append(Finding(Problem.TWO_LAYOUTS))
    if not numbered and not one_row_a_dose(mapping):
        found.append(Finding(Note.NO_DOSE_COLUMN))
    found += [
        Finding(Note.COLUMN_NOT_READ, column=column)
        for column, header in enumerate(headers)
        if header and column not in mapping
    ]
    return found


def header_row(rows: Sequence[Sequence[str]]) -> int:
    """Index of the row that holds the headers: the first of ten that names two fields, else the first (titles stand above)."""
    return next((index for index, row in enumerate(rows[:10]) if len(guess_mapping(row)) >= 2), 0)
