"""Small files that mean harm: refused with the limit and the remedy, in bounded memory and time.

The memory is that of a process of its own: what a reader in C takes isn't seen from inside.
"""

from __future__ import annotations

import io
import multiprocessing
import resource
import zipfile
from collections.abc import Callable

import pytest

from staff.ground.errors import Invalid
from staff.services.importing.files import sheet_read
from tests.staff.imports.lists import workbook

# Growth of the process and its processor time; and when it is ended whatever it does.
MEGABYTES, SECONDS, PATIENCE = 200, 15, 100
# A file of 44 kilobytes once took 3.7 GB and never ended.
TINY, TINY_SECONDS = 44 * 1024, 5
PLAIN = workbook(["Number", "Name"], ["1", "Ba"])
SHEET, STYLES, BOOK = "xl/worksheets/sheet1.xml", "xl/styles.xml", "xl/workbook.xml"
HEAD = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
TAIL = b"</sheetData></worksheet>"


def with_part(name: str, data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(PLAIN)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            new.writestr(part, data if part == name else old.read(part))
        if name not in old.namelist():
            new.writestr(name, data)
    return out.getvalue()


def sheet(rows: bytes) -> bytes:
    return with_part(SHEET, HEAD + rows + TAIL)


def one_row_of_cells() -> bytes:
    return sheet(b'<row r="1">' + b"<c/>" * 11_000_000 + b"</row>")


def the_grid_declared_in_44_kilobytes() -> bytes:
    dimension = HEAD.replace(b"<sheetData>", b'<dimension ref="A1:XFD1048576"/><sheetData>')
    row = b'<row r="1" spans="1:16384">' + b"<c/>" * 10_300_000 + b"</row>"
    content = with_part(SHEET, dimension + row + TAIL)
    assert len(content) <= TINY
    return content


def the_whole_grid_declared() -> bytes:
    styled = b'<row r="%d" spans="1:16384" s="1"><c r="XFD%d" s="1"/></row>'
    rows = b"".join(styled % (number, number) for number in range(1, 600_000))
    dimension = HEAD.replace(b"<sheetData>", b'<dimension ref="A1:XFD1048576"/><sheetData>')
    return with_part(SHEET, dimension + rows[:45_000_000].rpartition(b"<row")[0] + TAIL)


def millions_of_styles() -> bytes:
    head = b'<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cellXfs>'
    return with_part(STYLES, head + b"<xf/>" * 9_000_000 + b"</cellXfs></styleSheet>")


def one_text_of_millions_of_runs() -> bytes:
    head = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si>'
    return with_part("xl/sharedStrings.xml", head + b"<r/>" * 11_000_000 + b"</si></sst>")


def shared_formulas() -> bytes:
    master = (
        b'<row r="1"><c r="A1"><f t="shared" si="0" ref="A1:A40000">' + b"B1+" * 2700 + b"1</f></c></row>"
    )
    child = b'<row r="%d"><c r="A%d"><f t="shared" si="0"/></c></row>'
    return sheet(master + b"".join(child % (row, row) for row in range(2, 40_000)))


def a_format_without_end() -> bytes:
    head = b'<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><numFmts>'
    code = b'<numFmt numFmtId="200" formatCode="' + b"[" * 400_000 + b'"/>'
    return with_part(STYLES, head + code + b"</numFmts></styleSheet>")


def millions_of_attributes() -> bytes:
    named = b"".join(b' a%x=""' % number for number in range(600_000))
    return sheet(b"<row" + named + b"/>")


def very_many_sheets() -> bytes:
    one = b'<sheet name="s%d" sheetId="%d" r:id="rId1"/>'
    return with_part(
        BOOK, b"<workbook xmlns:r='r'>" + b"".join(one % (n, n) for n in range(1, 5000)) + b"</workbook>"
    )


def a_workbook_in_a_workbook() -> bytes:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/media/big.bin", b"\0" * 40_000_000)
    return with_part("xl/embeddings/inner.xlsx", inner.getvalue() + b"\0" * 60_000_000)


def a_csv_of_separators() -> bytes:
    return b"Number,Name\n" + b"," * 4_900_000


BOMBS: dict[str, tuple[Callable[[], bytes], str]] = {
    "one row of eleven million cells": (one_row_of_cells, "too much beside its list"),
    "the grid declared in 44 kilobytes": (the_grid_declared_in_44_kilobytes, "too much beside its list"),
    "the whole grid declared": (the_whole_grid_declared, "more than 50000 rows|below row 50000"),
    "millions of styles": (millions_of_styles, "too much beside its list"),
    "one text of millions of runs": (one_text_of_millions_of_runs, "too much beside its list"),
    "shared formulas": (shared_formulas, "too many formulas"),
    "a format without end": (a_format_without_end, "no spreadsheet program writes"),
    "millions of attributes": (millions_of_attributes, "no spreadsheet program writes"),
    "very many sheets": (very_many_sheets, "more than 100 sheets"),
    "a workbook in a workbook": (a_workbook_in_a_workbook, "too large when unpacked"),
    "a CSV of separators": (a_csv_of_separators, "More than 60 columns"),
}


def _used() -> tuple[float, int]:
    """Seconds of the processor, and the most memory so far in megabytes, of this process."""
    usage = resource.getrusage(resource.RUSAGE_SELF)
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss // 1024


def _read(content: bytes, answers: multiprocessing.Queue[tuple[str, int, float]]) -> None:
    # The file was made before the fork: what that took isn't taken for what reading it takes.
    seconds, megabytes = _used()
    # What would take gigabytes ends here instead of taking the machine along.
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
    try:
        sheet_read(content=content)
        said = "taken"
    except Invalid as refused:
        said = refused.fields["file"]
    seconds_then, megabytes_then = _used()
    answers.put((said, megabytes_then - megabytes, seconds_then - seconds))


@pytest.mark.timeout(200)
@pytest.mark.parametrize("name", BOMBS)
def test_a_small_file_that_means_harm_is_refused_in_words(name: str) -> None:
    context = multiprocessing.get_context("fork")
    answers: multiprocessing.Queue[tuple[str, int, float]] = context.Queue()
    content = BOMBS[name][0]()
    process = context.Process(target=_read, args=(content, answers))
    process.start()
    process.join(PATIENCE)
    alive = process.is_alive()
    process.kill()
    assert not alive, "it never ends"
    said, megabytes, seconds = answers.get(timeout=5)
    assert any(words in said for words in BOMBS[name][1].split("|")), said
    assert megabytes < MEGABYTES and seconds < (TINY_SECONDS if len(content) <= TINY else SECONDS)
