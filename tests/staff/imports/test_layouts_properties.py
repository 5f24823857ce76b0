"""Whatever the list: both layouts say the same, dirt changes nothing, and a swap of day and month never passes."""

from __future__ import annotations

import csv
import io
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from staff.rules.importing.cells import Sheet
from staff.rules.importing.columns import guess_mapping
from staff.rules.importing.dates import DateFormat
from staff.rules.importing.reader import SheetParser
from staff.services.importing.files import sheet_read

TODAY, EARLIEST = date(2026, 3, 2), date(1970, 1, 1)
People = dict[str, tuple[str, list[date]]]

NAMES = st.text(st.characters(codec="utf-8", categories=["L"]), min_size=1, max_size=20).filter(
    lambda name: name == name.strip()
)
DATES = st.lists(st.dates(EARLIEST, TODAY), max_size=6, unique=True)
PEOPLE: st.SearchStrategy[People] = st.dictionaries(
    st.integers(1, 10_000).map(str), st.tuples(NAMES, DATES), min_size=1, max_size=6
)
FORMATS = st.sampled_from([DateFormat.DAY_FIRST, DateFormat.MONTH_FIRST])


def written(day: date, chosen: DateFormat) -> str:
    return day.strftime("%d/%m/%Y" if chosen is DateFormat.DAY_FIRST else "%m/%d/%Y")


def content(rows: list[list[str]], sign: str = ",") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=sign).writerows(rows)
    return out.getvalue().encode()


def by_person(people: People, chosen: DateFormat) -> list[list[str]]:
    header = ["Number", "Name", *(f"Dose {number}" for number in range(1, 7))]
    return [header] + [
        [number, name, *(written(day, chosen) for day in days), *[""] * (6 - len(days))]
        for number, (name, days) in people.items()
    ]


def by_dose(people: People, chosen: DateFormat) -> list[list[str]]:
    rows = [["Number", "Name", "Dose date"]]
    for number, (name, days) in people.items():
        rows += [[number, name, written(day, chosen)] for day in days] or [[number, name, ""]]
    return rows


def understood(sheet: Sheet, chosen: DateFormat) -> tuple[dict[str, tuple[str, list[date]]], bool]:
    """People by number with their dates in order, and whether anything stops the import."""
    parser = SheetParser(guess_mapping(sheet.headers), chosen, {}, TODAY, EARLIEST)
    for row in sheet.body:
        parser.take(row)
    parser.finish()
    people = {
        number: (person.name, sorted(dose.day for dose in person.doses))
        for number, person in parser.people.items()
    }
    return people, any(finding.stops for finding in parser.findings)


def normal(people: People, sheet: Sheet) -> dict[str, tuple[str, list[date]]]:
    names = {row.cells[0].text: row.cell(1).text for row in sheet.body}
    return {number: (names[number], sorted(days)) for number, (_, days) in people.items()}


@given(people=PEOPLE, chosen=FORMATS)
def test_one_row_a_person_and_one_row_a_dose_are_understood_alike(people: People, chosen: DateFormat) -> None:
    wide = sheet_read(content=content(by_person(people, chosen)))
    long = sheet_read(content=content(by_dose(people, chosen)))
    assert understood(wide, chosen) == understood(long, chosen) == (normal(people, wide), False)


@given(
    people=PEOPLE,
    chosen=FORMATS,
    sign=st.sampled_from(",;\t"),
    blank=st.sampled_from(["", " ", "\u00a0", "-", "\u2013"]),
)
def test_separators_blanks_and_dashes_change_nothing(
    people: People, chosen: DateFormat, sign: str, blank: str
) -> None:
    clean = by_person(people, chosen)
    dirty = [
        clean[0],
        [blank] * 8,
        *([f"{cell}\u00a0 " if cell else blank for cell in row] for row in clean[1:]),
    ]
    assert understood(sheet_read(content=content(dirty, sign)), chosen) == understood(
        sheet_read(content=content(clean)), chosen
    )


@given(people=PEOPLE, chosen=FORMATS)
def test_without_a_format_no_written_date_is_ever_read(people: People, chosen: DateFormat) -> None:
    found, stops = understood(sheet_read(content=content(by_dose(people, chosen))), DateFormat.ISO)
    assert not any(days for _, days in found.values())
    assert stops == any(days for _, days in people.values())
