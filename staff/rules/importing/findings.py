"""What is wrong or worth a look in a sheet, by row and column. Sentences are made elsewhere, from the code."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum


class Problem(StrEnum):
    """Stops the import: nothing is written while one stands."""

    NO_NUMBER_COLUMN = "no-number-column"
    FIELD_TWICE = "field-twice"
    TWO_LAYOUTS = "two-layouts"
    NO_ROWS = "no-rows"
    NUMBER_MISSING = "number-missing"
    NUMBER_TWICE = "number-twice"
    NUMBER_VARIANT = "number-variant"
    NAME_MISSING = "name-missing"
    DIFFERS_FROM_ROW = "differs-from-row"
    CELL_FORMULA = "cell-formula"
    CELL_ERROR = "cell-error"
    CELL_CONTROL = "cell-control"
    CELL_ACTIVE = "cell-active"
    TOO_LONG = "too-long"
    EMAIL = "email"
    CREW_ROLE = "crew-role"
    ROUTE = "route"
    PURPOSE = "purpose"
    POST_EXPOSURE = "post-exposure"
    DATE_FORMAT_NEEDED = "date-format-needed"
    DATE_SHORT_YEAR = "date-short-year"
    DATE_IMPOSSIBLE = "date-impossible"
    DATE_NUMBER = "date-number"
    DATE_TEXT = "date-text"
    DATE_FUTURE = "date-future"
    BRIEFING_FUTURE = "briefing-future"
    DATE_TOO_OLD = "date-too-old"
    DATE_MISSING = "date-missing"
    DOSE_TWICE = "dose-twice"
    OWN_RECORD = "own-record"


class Note(StrEnum):
    """Worth a look; doesn't stop the import."""

    COLUMN_NOT_READ = "column-not-read"
    NO_DOSE_COLUMN = "no-dose-column"
    NO_BRIEFING_COLUMN = "no-briefing-column"
    MIXED_DATES = "mixed-dates"
    OUT_OF_ORDER = "out-of-order"
    DOSE_SKIPPED = "dose-skipped"
    TOO_EARLY = "too-early"
    NAME_DIFFERS = "name-differs"
    SAME_NAME = "same-name"
    DOSE_VOIDED = "dose-voided"
    DOSE_DIFFERS = "dose-differs"


@dataclass(frozen=True)
class Finding:
    """`row` as the spreadsheet shows it, `column` counted from 0; None for the sheet or row as a whole."""

    code: Problem | Note
    row: int | None = None
    column: int | None = None
    params: Mapping[str, str | int | date] = field(default_factory=dict)

    @property
    def stops(self) -> bool:
        return isinstance(self.code, Problem)
