"""Reading XLSX (ISO/IEC 29500) without trusting it: sizes are checked before anything is unpacked."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from itertools import count, zip_longest
from typing import Any

from django.utils.translation import gettext as _
from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from staff.ground.errors import Invalid
from staff.rules.importing.cells import ERROR, FORMULA, Cell, SheetRow, clean_text
from staff.services.importing.package_scan import parts_check

ZIP = b"PK\x03\x04"
OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
# A list of 20,000 rows unpacks to some 15 MB; zipfile itself stops at the sizes the directory declares.
MAX_UNPACKED = 48 * 1024 * 1024
MAX_PARTS = 500
# Each row on the way to a stray cell is read: one in the last row a sheet can have kept the server busy for a minute.
FURTHEST_ROW = 50_000
# What openpyxl raises on a workbook that contradicts itself.
_BROKEN = (
    zipfile.BadZipFile, InvalidFileException, KeyError, ValueError, TypeError, IndexError, AttributeError,
    SyntaxError, EOFError, OSError, NotImplementedError, RuntimeError,
)  # fmt: skip

Remarks = tuple[tuple[str, str], ...]


def read_workbook(content: bytes, *, max_columns: int) -> tuple[list[SheetRow], Remarks]:
    """Rows of the first visible sheet with something in it; raises `Invalid` on "file"."""
    try:
        _check_package(content)
        with warnings.catch_warnings():
            # A date outside the calendar comes as an error cell, which the report names by row and column.
            warnings.simplefilter("ignore", UserWarning)
            return _read(content, max_columns)
    except _BROKEN as error:
        raise Invalid(
            {"file": _("The workbook can't be read (%(why)s); save it again as .xlsx.") % {"why": error}}
        ) from error


def _check_package(content: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        parts = package.infolist()
        if "xl/workbook.xml" not in {part.filename for part in parts}:
            raise Invalid({"file": _("This is no .xlsx workbook; save the list as .xlsx or CSV.")})
        if len(parts) > MAX_PARTS or sum(part.file_size for part in parts) > MAX_UNPACKED:
            raise Invalid(
                {"file": _("The workbook is too large when unpacked; copy the list into a new one.")}
            )
        parts_check(package)


def _read(content: bytes, max_columns: int) -> tuple[list[SheetRow], Remarks]:
    # Read twice: once for what cells show, once for which are formulas, so that a formula without a kept
    # result is named and never taken for a blank.
    values = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    formulas = load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
    names = [sheet.title for sheet in values.worksheets if sheet.sheet_state == "visible"]
    walked = count(
        1
    )  # over all sheets: a hundred that are empty down to the last row would take as long as one
    for name in names:
        rows = list(_rows(values[name], formulas[name], max_columns + 1, walked))
        if any(not row.blank for row in rows):
            return rows, (("other-sheets", name),) if len(names) > 1 else ()
    return [], ()


def _rows(shown: Any, written: Any, columns: int, walked: Iterator[int]) -> Iterator[SheetRow]:
    for sheet in (shown, written):
        sheet.reset_dimensions()  # the declared size may be wrong, and rows beyond it would be lost in silence
    pairs = zip_longest(shown.iter_rows(max_col=columns), written.iter_rows(max_col=columns), fillvalue=())
    for number, (values, sources) in enumerate(pairs, start=1):
        if next(walked) > FURTHEST_ROW:
            words = _("Something stands below row %(row)d; delete all rows below the list and save it again.")
            raise Invalid({"file": words % {"row": FURTHEST_ROW}})
        cells = tuple(_cell(value, source) for value, source in zip(values, sources, strict=True))
        row = SheetRow(number, cells)
        if not row.blank:
            yield row


def _cell(shown: Any, written: Any) -> Cell:
    value = shown.value
    if shown.data_type == "e":
        return Cell(clean_text(str(value)), fault=ERROR)
    if value is None:
        return Cell(clean_text(str(written.value)), fault=FORMULA) if written.data_type == "f" else Cell()
    if isinstance(value, datetime):
        return Cell(day=value.date())
    if isinstance(value, date):
        return Cell(day=value)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return Cell(clean_text(str(value)))
