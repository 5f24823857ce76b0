"""From the bytes of a file to a sheet. What the file is, is told by its content and never by its name."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from django.conf import settings
from django.utils.translation import gettext as _

from staff.ground.errors import Invalid
from staff.rules.importing.cells import Cell, Sheet, SheetRow, clean_text
from staff.rules.importing.columns import header_row
from staff.services.importing.workbook import OLD_OR_LOCKED, ZIP, read_workbook

MAX_ROWS = 20_000
MAX_COLUMNS = 60
# As wide as a sheet can be; columns beyond MAX_COLUMNS may be empty up to here.
WIDEST_RECORD = 16_384
# Header, footer or picture formats that people send by mistake.
_OTHER = (b"%PDF", b"{\\rtf", b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"\x1f\x8b", b"7z\xbc\xaf")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def sheet_read(*, content: bytes) -> Sheet:
    """The rows of a CSV or XLSX file, headers first; raises `Invalid` on "file" with what to do."""
    if len(content) > settings.IMPORT_MAX_BYTES:
        raise refuse_size()
    rows: Iterable[SheetRow]
    if content.startswith(ZIP):
        rows, remarks = read_workbook(content, max_columns=MAX_COLUMNS)
    elif content.startswith(OLD_OR_LOCKED):
        raise _refuse(
            _("This is an old .xls file or one locked with a password; save it as .xlsx or CSV without one.")
        )
    elif content.startswith(_OTHER) or content.lstrip()[:5].lower() in {b"<html", b"<!doc"}:
        raise _refuse(_("This is no spreadsheet; save the list as .xlsx or CSV and choose that file."))
    else:
        rows, remarks = _csv_rows(content)
    return _trim(rows, remarks)


def refuse_size() -> Invalid:
    megabytes = settings.IMPORT_MAX_BYTES // (1024 * 1024)
    return _refuse(
        _("The file is larger than %(megabytes)d MB; send the list in parts.") % {"megabytes": megabytes}
    )


def _too_wide() -> Invalid:
    words = _("More than %(columns)d columns; leave out those that aren't needed.")
    return _refuse(words % {"columns": MAX_COLUMNS})


def _refuse(message: str) -> Invalid:
    return Invalid({"file": message})


def _trim(rows: Iterable[SheetRow], remarks: tuple[tuple[str, str], ...]) -> Sheet:
    """Rows that hold something, from the headers on, within the limits."""
    kept: list[SheetRow] = []
    for row in rows:
        if row.blank:
            continue
        if len(kept) > MAX_ROWS:
            raise _refuse(_("More than %(rows)d rows; send the list in parts.") % {"rows": MAX_ROWS})
        if any(not cell.blank for cell in row.cells[MAX_COLUMNS:]):
            raise _too_wide()
        last = max(column for column, cell in enumerate(row.cells) if not cell.blank)
        kept.append(SheetRow(row.number, row.cells[: last + 1]))
    if not kept:
        raise _refuse(_("The file holds no rows."))
    first = header_row([[cell.shown for cell in row.cells] for row in kept[:10]])
    return Sheet(tuple(kept[first:]), remarks)


def _decode(content: bytes) -> tuple[str, str]:
    """Text and the name of its encoding: what the byte order mark says, else UTF-8, else Windows-1252."""
    if content.startswith(_UTF16):
        names = ["utf-16"]
    elif b"\0" in content:
        raise _refuse(_("This is no spreadsheet; save the list as .xlsx or CSV and choose that file."))
    else:
        names = ["utf-8-sig", "windows-1252"]
    for name in names:
        try:
            return content.decode(name), name
        except UnicodeDecodeError:
            continue
    raise _refuse(_("The letters of this file can't be read; save it as CSV in UTF-8."))


def _csv_rows(content: bytes) -> tuple[Iterable[SheetRow], tuple[tuple[str, str], ...]]:
    text, encoding = _decode(content)
    separator = _separator(text)
    try:
        records = []
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True):
            if len(record) > WIDEST_RECORD:
                raise _too_wide()
            records.append(record)
    except csv.Error as error:
        raise _refuse(
            _("The file isn't whole CSV (%(why)s); save it from the spreadsheet program again.")
            % {"why": error}
        ) from error
    rows = (
        SheetRow(number, tuple(Cell(clean_text(value)) for value in record))
        for number, record in enumerate(records, start=1)
    )
    return rows, (("encoding", encoding),) if encoding == "windows-1252" else ()


def _separator(text: str) -> str:
    """The sign that parts the columns: the commonest outside quotes in the first lines with any of them."""
    for line in text.splitlines()[:10]:
        outside = "".join(line.split('"')[::2])
        counts = {sign: outside.count(sign) for sign in "\t;,"}
        best = max(counts, key=lambda sign: counts[sign])
        if counts[best]:
            return best
    return ","
