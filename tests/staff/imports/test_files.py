"""What a file is, told by its content; encodings, separators, workbooks, and files that mean harm.

CSV after RFC 4180. Workbooks after ISO/IEC 29500 (SpreadsheetML), whose 1900 and 1904 date systems give one
day the serials 46027 and 44565; both are written by the library and read back here.
"""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime

import pytest
from django.test import override_settings
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900

from staff.ground.errors import Invalid
from staff.rules.importing.cells import Sheet, pack, unpack
from staff.services.importing import workbook as workbook_module
from staff.services.importing.files import MAX_COLUMNS, MAX_ROWS, sheet_read
from tests.staff.imports.lists import lines, saved, workbook

LIST = "Number;Name;Dose 1\n1;Amé Ñandu;2026-01-05\n"


def texts(sheet: Sheet) -> list[list[str]]:
    return [[cell.shown for cell in row.cells] for row in sheet.rows]


def refused(content: bytes) -> str:
    with pytest.raises(Invalid) as caught:
        sheet_read(content=content)
    return caught.value.fields["file"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "windows-1252"])
def test_the_same_list_in_every_encoding_reads_alike(encoding: str) -> None:
    sheet = sheet_read(content=LIST.encode(encoding))
    assert texts(sheet) == [["Number", "Name", "Dose 1"], ["1", "Amé Ñandu", "2026-01-05"]]
    assert bool(sheet.remarks) == (encoding == "windows-1252")


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_the_separator_is_found_even_when_quoted_cells_hold_the_others(sign: str) -> None:
    content = (
        sign.join(("Number", '"Name, or; name"', "Dose 1")) + "\n" + sign.join(("1", '"Ba, Lo; Mi"', ""))
    )
    assert texts(sheet_read(content=content.encode()))[1] == ["1", "Ba, Lo; Mi"]


def test_blanks_of_every_kind_go_and_a_dash_is_nothing() -> None:
    content = "Number,Name,Dose 1\n\u00a01 , Ba\u00a0\u00a0Lo\ufeff ,-\n".encode()
    assert texts(sheet_read(content=content))[1] == ["1", "Ba Lo"]


def test_blank_rows_are_left_out_and_rows_keep_their_numbers() -> None:
    sheet = sheet_read(content=lines("Number,Name", "", "1,Ba", ",", ' ,"-"', "2,Lo"))
    assert [row.number for row in sheet.rows] == [1, 3, 6]


def test_titles_above_the_headers_are_passed_over() -> None:
    assert sheet_read(content=lines("Our people", "made in March", "Number,Name", "1,Ba")).headers == (
        "Number",
        "Name",
    )


@pytest.mark.parametrize(
    ("epoch", "serial"), [(CALENDAR_WINDOWS_1900, b"46027"), (CALENDAR_MAC_1904, b"44565")]
)
def test_dates_of_a_workbook_are_days_in_both_date_systems(epoch: datetime, serial: bytes) -> None:
    book = Workbook()
    book.epoch = epoch
    for row in (["Number", "Dose 1", "Dose 2"], [7, date(2026, 1, 5), datetime(2024, 2, 29, 14, 30)]):
        book.worksheets[0].append(row)
    content = saved(book)
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        assert b"<v>%s</v>" % serial in package.read("xl/worksheets/sheet1.xml")
    cells = sheet_read(content=content).body[0].cells
    assert [cell.day for cell in cells] == [None, date(2026, 1, 5), date(2024, 2, 29)]
    assert cells[0].text == "7"


def test_a_serial_without_a_date_format_stays_a_number() -> None:
    cell = sheet_read(content=workbook(["Number", "Dose 1"], [7.0, 46027.0])).body[0].cells
    assert [each.text for each in cell] == ["7", "46027"]


def test_a_formula_whose_result_isnt_kept_is_named_and_never_a_blank() -> None:
    cell = sheet_read(content=workbook(["Number", "Dose 1"], ["7", "=TODAY()"])).body[0].cells[1]
    assert (cell.fault, cell.blank) == ("formula", False)


def test_an_error_cell_is_named() -> None:
    book = Workbook()
    book.worksheets[0].append(["Number", "Dose 1"])
    book.worksheets[0].append(["7", "#REF!"])
    book.worksheets[0]["B2"].data_type = "e"
    assert sheet_read(content=saved(book)).body[0].cells[1].fault == "error"


def test_the_first_visible_sheet_with_something_in_it_is_read_and_said_so() -> None:
    book = Workbook()
    book.worksheets[0].title = "Empty"
    hidden = book.create_sheet("Old")
    hidden.append(["Number", "Name"])
    hidden.sheet_state = "hidden"
    book.create_sheet("Staff").append(["Number", "Name"])
    sheet = sheet_read(content=saved(book))
    assert sheet.remarks == (("other-sheets", "Staff"),)


def test_rows_beyond_the_size_a_workbook_declares_are_read() -> None:
    content = workbook(["Number", "Name"], ["1", "Ba"], ["2", "Lo"])
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"]
    assert b'ref="A1:B3"' in sheet
    parts["xl/worksheets/sheet1.xml"] = sheet.replace(b'ref="A1:B3"', b'ref="A1:B2"')
    assert len(sheet_read(content=packed(parts)).rows) == 3


def packed(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, data in parts.items():
            package.writestr(name, data)
    return out.getvalue()


def test_a_workbook_that_unpacks_to_too_much_is_refused_before_it_is_unpacked() -> None:
    bomb = packed(
        {"xl/workbook.xml": b"<a/>", "xl/sharedStrings.xml": b" " * (workbook_module.MAX_UNPACKED + 1)}
    )
    assert len(bomb) < 200_000
    assert "too large when unpacked" in refused(bomb)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16-le", "utf-16-be"])
def test_a_workbook_with_entities_is_refused(encoding: str) -> None:
    entity = '<!DOCTYPE x [<!ENTITY a "b">]><workbook>&a;</workbook>'.encode(encoding)
    assert "no spreadsheet program writes" in refused(packed({"xl/workbook.xml": entity}))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"x" * 50, "old .xls"),
        (b"%PDF-1.7 x", "no spreadsheet"),
        (b"<html><table>", "no spreadsheet"),
        (b"MZ\x00\x01\x02", "no spreadsheet"),
        (b"Number,Name\n1,\x81\x8d\n", "can't be read"),
        (b'Number,Name\n1,"Ba', "isn't whole CSV"),
        (b"", "no rows"),
        (b" ,\n-,\n", "no rows"),
        (b"PK\x03\x04 not a package", "can't be read"),
    ],
)
def test_what_is_no_list_is_refused_with_what_to_do(content: bytes, words: str) -> None:
    assert words in refused(content)


def test_another_kind_of_package_is_refused() -> None:
    assert "no .xlsx workbook" in refused(packed({"content.xml": b"<office/>"}))


def test_a_file_over_the_limit_is_refused() -> None:
    with override_settings(IMPORT_MAX_BYTES=20):
        assert "larger than" in refused(b"Number,Name\n" + b"1,Ba\n" * 10)


def test_too_many_rows_and_too_many_columns_are_refused_and_one_fewer_is_not() -> None:
    rows = b"Number\n" + b"1\n" * MAX_ROWS
    assert len(sheet_read(content=rows).body) == MAX_ROWS
    assert f"More than {MAX_ROWS} rows" in refused(rows + b"1\n")
    columns = ",".join(["x"] * MAX_COLUMNS)
    assert len(sheet_read(content=columns.encode()).headers) == MAX_COLUMNS
    assert f"More than {MAX_COLUMNS} columns" in refused(f"{columns},x".encode())


def test_more_columns_than_allowed_in_a_workbook_are_refused_too() -> None:
    assert f"More than {MAX_COLUMNS} columns" in refused(workbook(["x"] * (MAX_COLUMNS + 1)))


@pytest.mark.parametrize(("row", "read"), [(9, True), (10, True), (11, False), (1_048_576, False)])
def test_a_stray_cell_far_below_the_list_is_named_instead_of_waded_to(
    row: int, read: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workbook_module, "FURTHEST_ROW", 10)
    book = Workbook()
    book.active.append(["Number", "Name"])
    book.active.cell(row=row, column=1, value="7")
    if read:
        assert [each.number for each in sheet_read(content=saved(book)).rows] == [1, row]
    else:
        assert "below row 10" in refused(saved(book))


def test_a_sheet_survives_being_kept() -> None:
    content = workbook(
        ["Number", "Dose 1", "Dose 2"], ["7", date(2026, 1, 5), "=1+1"], ["8", "03/04/2026", None]
    )
    sheet = sheet_read(content=content)
    assert unpack(pack(sheet)) == sheet
