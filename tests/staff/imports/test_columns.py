"""Which column holds what."""

from __future__ import annotations

import pytest

from staff.models import Dose, Person
from staff.rules.importing.cells import column_letter
from staff.rules.importing.columns import Field, check_mapping, guess_field, guess_mapping, header_row
from staff.rules.importing.reader import LONGEST


@pytest.mark.parametrize(
    ("header", "field"),
    [
        ("STAFF No.", Field.NUMBER), ("staff_number", Field.NUMBER), ("Full  Name", Field.NAME),
        ("E-MAIL", Field.EMAIL), ("Tel.", Field.PHONE), ("Crew Role(s)", None), ("roles", Field.CREW_ROLES),
        ("Dose 1", Field.DOSE_1), ("2nd dose", Field.DOSE_2), ("Date of third dose", Field.DOSE_3),
        ("DOSE-4 date", Field.DOSE_4), ("dose 7", None), ("Dose", None), ("Dose date", Field.DOSE_DATE),
        ("Date of birth", None), ("Date given", Field.DOSE_DATE), ("Lot No.", Field.BATCH), ("dose 1 batch", None),
        ("", None),
    ],
)  # fmt: skip
def test_a_header_names_its_field_whatever_its_capitals_and_signs(header: str, field: Field | None) -> None:
    assert guess_field(header) is field


def test_of_two_columns_with_one_meaning_the_first_is_read_and_the_other_reported() -> None:
    headers = ["No", "Name", "Full name", "Dose 1"]
    mapping = guess_mapping(headers)
    assert mapping == {0: Field.NUMBER, 1: Field.NAME, 3: Field.DOSE_1}
    assert [(str(found.code), found.column) for found in check_mapping(headers, mapping)] == [
        ("column-not-read", 2)
    ]


def test_a_choice_of_columns_that_cant_be_is_named() -> None:
    headers = ["a", "b", "c", "d"]
    twice = {0: Field.NAME, 1: Field.NAME, 2: Field.DOSE_DATE, 3: Field.DOSE_1}
    assert [str(found.code) for found in check_mapping(headers, twice)] == [
        "no-number-column",
        "field-twice",
        "two-layouts",
    ]


def test_headers_are_looked_for_below_titles_and_not_below_ten_rows() -> None:
    assert header_row([["Our staff"], [""], ["No", "Name"]]) == 2
    assert header_row([["title"]] * 10 + [["No", "Name"]]) == 0


def test_columns_have_the_letters_spreadsheets_give_them() -> None:
    assert [column_letter(column) for column in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def test_the_longest_texts_are_those_the_record_keeps() -> None:
    kept = {Field.NUMBER: "number", Field.NAME: "name", Field.EMAIL: "email", Field.PHONE: "phone"}
    for field, attribute in kept.items():
        assert LONGEST[field] == Person._meta.get_field(attribute).max_length
    for field, attribute in {Field.PRODUCT: "product", Field.BATCH: "batch", Field.PLACE: "place"}.items():
        assert LONGEST[field] == Dose._meta.get_field(attribute).max_length
