"""One cell as it was read, and the rows of a sheet."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

# Blanks that spreadsheets and web pages put in: no-break spaces, and characters of no width.
_ODD_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u202f\u3000"), " ")
_NO_WIDTH = dict.fromkeys(map(ord, "\u200b\u2060\ufeff\u00ad"))
# What people type to say that there is nothing.
_NOTHING = frozenset({"-", "--", "\u2013", "\u2014"})

LOST = "\ufffd"
FORMULA, ERROR = "formula", "error"


@dataclass(frozen=True)
class Cell:
    """Text without outer blanks, or a real date of the spreadsheet, or what makes it unreadable.

    `fault` is FORMULA (a formula whose result the file doesn't hold) or ERROR (such as #REF!).
    """

    text: str = ""
    day: date | None = None
    fault: str = ""

    @property
    def blank(self) -> bool:
        return not self.text and self.day is None and not self.fault

    @property
    def shown(self) -> str:
        """The cell as one would write it."""
        return self.day.isoformat() if self.day else self.text


@dataclass(frozen=True)
class SheetRow:
    """`number` is the row's number as the spreadsheet program shows it, from 1."""

    number: int
    cells: tuple[Cell, ...]

    @property
    def blank(self) -> bool:
        return all(cell.blank for cell in self.cells)

    def cell(self, column: int) -> Cell:
        """The cell of a column counted from 0; blank beyond the end of a short row."""
        return self.cells[column] if column < len(self.cells) else Cell()


@dataclass(frozen=True)
class Sheet:
    """Rows with something in them, the first of them the headers; `remarks` are (code, value) about the file."""

    rows: tuple[SheetRow, ...]
    remarks: tuple[tuple[str, str], ...] = ()

    @property
    def headers(self) -> tuple[str, ...]:
        return tuple(cell.shown for cell in self.rows[0].cells) if self.rows else ()

    @property
    def body(self) -> tuple[SheetRow, ...]:
        return self.rows[1:]


def clean_text(raw: str) -> str:
    """Text in one normal form (NFC) with every run of blanks as one space and none outside; "-" alone is nothing."""
    raw = raw.replace("\0", LOST)  # PostgreSQL keeps no NUL
    text = unicodedata.normalize("NFC", raw.translate(_ODD_SPACES).translate(_NO_WIDTH))
    text = " ".join(text.split())
    return "" if text in _NOTHING else text


def unkeepable(text: str) -> bool:
    """True when `text` holds control characters or one that was lost on the way, which no name, number or batch has."""
    return LOST in text or any(unicodedata.category(character) in {"Cc", "Cs"} for character in text)


def column_letter(column: int) -> str:
    """A to Z, AA, AB …, as spreadsheet programs name the column counted from 0."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def pack(sheet: Sheet) -> dict[str, Any]:
    """The sheet in JSON types; text is a string, a date {"day"}, a fault {"fault", "text"}."""

    def packed(cell: Cell) -> Any:
        if cell.day:
            return {"day": cell.day.isoformat()}
        return {"fault": cell.fault, "text": cell.text} if cell.fault else cell.text

    rows = [[row.number, [packed(cell) for cell in row.cells]] for row in sheet.rows]
    return {"rows": rows, "remarks": [list(remark) for remark in sheet.remarks]}


def unpack(data: dict[str, Any]) -> Sheet:
    """The reverse of `pack`."""

    def unpacked(value: Any) -> Cell:
        if isinstance(value, str):
            return Cell(value)
        if "day" in value:
            return Cell(day=date.fromisoformat(value["day"]))
        return Cell(value["text"], fault=value["fault"])

    def row(number: int, cells: Iterable[Any]) -> SheetRow:
        return SheetRow(number, tuple(unpacked(cell) for cell in cells))

    return Sheet(
        tuple(row(number, cells) for number, cells in data["rows"]),
        tuple((code, value) for code, value in data["remarks"]),
    )
