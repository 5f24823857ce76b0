"""Dates of a list. ISO 8601-1:2019 for the written form; the Gregorian rule for leap years."""

from __future__ import annotations

import calendar
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from staff.rules.importing.cells import ERROR, FORMULA, Cell
from staff.rules.importing.dates import DateFormat, Unreadable, read_date

ISO, DAY_FIRST, MONTH_FIRST = DateFormat
DAYS = st.dates(date(1970, 1, 1), date(2099, 12, 31))


def refusal(text: str, chosen: DateFormat = ISO) -> str:
    with pytest.raises(Unreadable) as caught:
        read_date(Cell(text), chosen)
    return str(caught.value.problem)


@pytest.mark.parametrize(
    "text", ["03/04/2026", "13/04/2026", "04/13/2026", "5.1.2026", "05-01-2026", "5 1 2026"]
)
def test_three_numbers_are_refused_until_a_format_is_picked(text: str) -> None:
    assert refusal(text) == "date-format-needed"


def test_one_text_is_two_days_under_two_formats() -> None:
    assert read_date(Cell("03/04/2026"), DAY_FIRST) == date(2026, 4, 3)
    assert read_date(Cell("03/04/2026"), MONTH_FIRST) == date(2026, 3, 4)


@pytest.mark.parametrize(
    "text", ["31/04/2026", "29/02/2026", "29.02.2100", "00/01/2026", "04/13/2026", "1/0/2026"]
)
def test_a_day_that_isnt_in_the_calendar_is_refused_and_never_moved(text: str) -> None:
    assert refusal(text, DAY_FIRST) == "date-impossible"


@pytest.mark.parametrize("text", ["2026-02-29", "2026-13-01", "2026-00-10", "2026-06-31"])
def test_an_iso_date_that_isnt_in_the_calendar_is_refused(text: str) -> None:
    assert refusal(text) == "date-impossible"


def test_the_leap_day_is_read_in_leap_years() -> None:
    assert read_date(Cell("29/02/2024"), DAY_FIRST) == date(2024, 2, 29)
    assert read_date(Cell("2000-02-29"), ISO) == date(2000, 2, 29)


@pytest.mark.parametrize("text", ["05/01/26", "5.1.6", "01-02-126"])
@pytest.mark.parametrize("chosen", list(DateFormat))
def test_a_year_without_four_digits_is_refused_under_every_format(text: str, chosen: DateFormat) -> None:
    assert refusal(text, chosen) == "date-short-year"


@pytest.mark.parametrize("chosen", list(DateFormat))
def test_a_bare_number_is_no_date(chosen: DateFormat) -> None:
    assert refusal("46027", chosen) == "date-number"
    assert refusal("20260105", chosen) == "date-number"


@pytest.mark.parametrize(
    "text",
    [
        "2026/01/05",
        "5/1-2026",
        "Jan 5 2026",
        "2026-1-5",
        "26-01-05x",
        "2026-01-05T23:59",
        "2026-01-05Z",
        "٠٣/٠٤/٢٠٢٦",
        "pending",
    ],
)
def test_what_is_neither_iso_nor_three_numbers_is_refused(text: str) -> None:
    assert refusal(text, DAY_FIRST) == "date-text"


def test_the_midnight_that_programs_write_behind_a_date_is_let_pass() -> None:
    assert (
        read_date(Cell("2026-01-05 00:00:00"), ISO)
        == read_date(Cell("2026-01-05T00:00"), ISO)
        == date(2026, 1, 5)
    )


def test_a_formula_without_result_and_an_error_are_named() -> None:
    for fault, problem in ((FORMULA, "cell-formula"), (ERROR, "cell-error")):
        with pytest.raises(Unreadable) as caught:
            read_date(Cell("=A1", fault=fault), ISO)
        assert caught.value.problem == problem


@given(day=DAYS, chosen=st.sampled_from(list(DateFormat)))
def test_iso_and_real_dates_mean_the_same_day_under_every_format(day: date, chosen: DateFormat) -> None:
    assert read_date(Cell(day.isoformat()), chosen) == day
    assert read_date(Cell(day=day), chosen) == day


@given(day=DAYS, sign=st.sampled_from("/.- "), padded=st.booleans())
def test_a_day_written_out_reads_back_under_its_format_alone(day: date, sign: str, padded: bool) -> None:
    width = 2 if padded else 1
    first, second = f"{day.day:0{width}}", f"{day.month:0{width}}"
    assert read_date(Cell(sign.join((first, second, str(day.year)))), DAY_FIRST) == day
    assert read_date(Cell(sign.join((second, first, str(day.year)))), MONTH_FIRST) == day


@given(
    first=st.integers(0, 99),
    second=st.integers(0, 99),
    year=st.integers(1000, 9999),
    chosen=st.sampled_from([DAY_FIRST, MONTH_FIRST]),
)
def test_three_numbers_are_read_exactly_when_the_calendar_holds_the_day(
    first: int, second: int, year: int, chosen: DateFormat
) -> None:
    """Checked against the standard library's month lengths."""
    day, month = (first, second) if chosen is DAY_FIRST else (second, first)
    exists = 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]
    try:
        read = read_date(Cell(f"{first}/{second}/{year}"), chosen)
    except Unreadable:
        assert not exists
    else:
        assert exists
        assert (read.year, read.month, read.day) == (year, month, day)
