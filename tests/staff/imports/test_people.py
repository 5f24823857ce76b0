"""What rows say about people, and what is wrong with them, by row and column."""

from __future__ import annotations

from datetime import datetime

import pytest

from staff.rules.importing.dates import DateFormat
from staff.services.importing.plan import ImportPlan
from staff.services.importing.words import finding_words, place_words
from tests.factories import Team, give_doses
from tests.staff.imports.lists import FIXTURES, bring_in, check, codes, lines, workbook

pytestmark = pytest.mark.django_db

HEADER = "Number,Name,E-mail,Crew roles,Route,Dose 1,Dose 2,Dose 3"


def problems(plan: ImportPlan) -> list[tuple[str, int | None, int | None]]:
    return codes(plan.problems)


@pytest.mark.parametrize(
    ("row", "problem", "column"),
    [
        (",Ba,,,,,,", "number-missing", 0),
        ("9,,,,,,,", "name-missing", 1),
        ("=1+1,Ba,,,,,,", "cell-active", 0),
        ("9,+Ba,,,,,,", "cell-active", 1),
        ("9,B\x07a,,,,,,", "cell-control", 1),
        (f"9,{'x' * 121},,,,,,", "too-long", 1),
        ("9,Ba,ba@nowhere,,,,,", "email", 2),
        ("9,Ba,,captain,,,,", "crew-role", 3),
        ("9,Ba,,,oral,,,", "route", 4),
        ("9,Ba,,,,03/04/2026,,", "date-format-needed", 5),
        ("9,Ba,,,,2026-03-03,,", "date-future", 5),
        ("9,Ba,,,,1969-12-31,,", "date-too-old", 5),
        ("9,Ba,,,,2026-01-05,2026-01-05,", "dose-twice", 6),
    ],
)
def test_each_problem_is_reported_once_with_its_row_and_column(
    team: Team, now: datetime, row: str, problem: str, column: int
) -> None:
    assert problems(check(team.site, now, lines(HEADER, row))) == [(problem, 2, column)]


def test_a_dose_of_today_at_the_site_and_of_the_first_day_accepted_are_read(
    team: Team, now: datetime
) -> None:
    """`now` is 2 March 2026, 09:00 in Nairobi."""
    plan = check(team.site, now, lines(HEADER, "9,Ba,,,,1970-01-01,2026-03-02,"))
    assert not plan.problems
    assert plan.counts()["doses_added"] == 2


def test_today_is_the_sites_own_day(team: Team, now: datetime) -> None:
    late = now.replace(hour=22)  # 3 March, 01:00 in Nairobi; 2 March, 17:00 in Lima
    content = lines(HEADER, "9,Ba,,,,2026-03-03,,")
    assert not problems(check(team.site, late, content))
    assert problems(check(team.other_site, late, content)) == [("date-future", 2, 5)]


def test_a_number_twice_in_a_list_of_people_is_a_problem_and_names_the_other_row(
    team: Team, now: datetime
) -> None:
    plan = check(team.site, now, lines(HEADER, "9,Ba,,,,,,", "", "9,Ba,,,,,,"))
    assert problems(plan) == [("number-twice", 4, 0)]
    assert "row 2" in finding_words(plan.problems[0])


@pytest.mark.parametrize(("first", "second"), [("hs-1", "HS-1"), ("008", "8"), ("0", "00")])
def test_two_ways_to_write_one_number_are_a_problem_in_the_list(
    team: Team, now: datetime, first: str, second: str
) -> None:
    plan = check(team.site, now, lines(HEADER, f"{first},Ba,,,,,,", f"{second},Lo,,,,,,"))
    assert problems(plan) == [("number-variant", 3, 0)]


def test_another_way_to_write_a_number_on_record_never_makes_a_second_person(
    team: Team, now: datetime
) -> None:
    """The factory's member has number 7."""
    assert problems(check(team.site, now, lines(HEADER, "007,Test Member,,,,,,"))) == [
        ("number-variant", 2, 0)
    ]


def test_rows_of_one_person_that_contradict_each_other_are_a_problem(team: Team, now: datetime) -> None:
    content = lines(
        "Number,Name,Dose date,Batch", "9,Ba,2026-01-05,a", "9,Bo,2026-01-12,b", "9,,2026-01-26,c"
    )
    assert problems(check(team.site, now, content)) == [("differs-from-row", 3, 1)]


def test_a_dose_without_its_date_is_a_problem_in_a_list_of_doses(team: Team, now: datetime) -> None:
    content = lines("Number,Name,Dose date,Batch", "9,Ba,,a17", "8,Lo,,")
    assert problems(check(team.site, now, content)) == [("date-missing", 2, 2)]


def test_a_dose_after_an_exposure_is_refused_and_a_booster_is_taken(team: Team, now: datetime) -> None:
    content = lines("Number,Name,Dose date,Purpose", "9,Ba,2026-01-05,PEP", "8,Lo,2026-01-05,Booster")
    plan = check(team.site, now, content)
    assert problems(plan) == [("post-exposure", 2, 3)]
    assert plan.people[1].new_doses[0].purpose == "booster"


def test_real_dates_beside_written_ones_raise_a_note_about_swapped_days(team: Team, now: datetime) -> None:
    """Common practice, no source: a program set to month-first turns 03/04 into 4 March and leaves 13/04 as text."""
    content = workbook(
        ["Number", "Name", "Dose 1"], ["8", "Ba", datetime(2025, 3, 4)], ["9", "Lo", "13/04/2025"]
    )
    plan = check(team.site, now, content, DateFormat.DAY_FIRST)
    assert ("mixed-dates", None, 2) in codes(plan.notes)


def test_doses_out_of_order_and_left_out_are_noted_and_taken(team: Team, now: datetime) -> None:
    plan = check(
        team.site, now, lines(HEADER, "9,Ba,,,,2026-01-26,2026-01-05,", "8,Lo,,,,2026-01-05,,2026-01-26")
    )
    assert {("out-of-order", 2, 6), ("dose-skipped", 3, 6)} <= set(codes(plan.notes))
    assert not plan.problems
    assert plan.counts()["doses_added"] == 4


def test_a_dose_one_day_early_is_noted_and_kept_and_on_the_day_is_not_noted(
    team: Team, now: datetime
) -> None:
    """Smallest gap of the first two doses: 7 days, no grace (CDC CDSi 4.64, antigen Rabies)."""
    plan = check(
        team.site, now, lines(HEADER, "9,Ba,,,,2026-01-05,2026-01-11,", "8,Lo,,,,2026-01-05,2026-01-12,")
    )
    assert codes(plan.notes) == [("too-early", 2, 6)]
    assert "1 day too early" in finding_words(plan.notes[0])
    assert plan.counts()["doses_added"] == 4


def test_one_name_under_two_numbers_is_noted(team: Team, now: datetime) -> None:
    plan = check(team.site, now, lines(HEADER, "9,test member,,,,,,", "8,Lo,,,,,,", "10,LO,,,,,,"))
    assert codes(plan.notes) == [("same-name", 2, 1), ("same-name", 4, 1)]


def test_a_dose_on_record_with_other_details_is_kept_and_noted(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 20)
    plan = check(team.site, now, lines(HEADER, "7,,,,ID,2026-02-10,,"))
    assert codes(plan.notes) == [("dose-differs", 2, 5)]
    assert not plan.changed


def test_every_row_but_the_first_of_the_problem_sample_has_its_problem(team: Team, now: datetime) -> None:
    content = (FIXTURES / "staff_sample_problems.csv").read_bytes()
    plan = check(team.site, now, content)
    assert [finding.row for finding in plan.problems] == list(range(3, 21))
    assert len({finding.code for finding in plan.problems}) == 17


def test_a_finding_names_the_column_as_the_spreadsheet_does(team: Team, now: datetime) -> None:
    plan = check(team.site, now, lines(HEADER, "9,Ba,,,,03/04/2025,,"))
    assert place_words(plan.problems[0], HEADER.split(",")) == ("2", "F Dose 1")
    assert "3 Apr" in finding_words(plan.problems[0]) and "4 Mar" in finding_words(plan.problems[0])
    plan = check(team.site, now, lines(HEADER, "9,Ba,,,,13/04/2025,,"))
    assert "13 Apr" not in finding_words(plan.problems[0])


def test_a_list_without_rows_or_staff_numbers_is_a_problem(team: Team, now: datetime) -> None:
    assert problems(check(team.site, now, lines(HEADER))) == [("no-rows", None, None)]
    assert problems(check(team.site, now, lines("Name,Dose 1", "Ba,2026-01-05"))) == [
        ("no-number-column", None, None)
    ]


def test_crew_roles_are_read_in_any_capitals_and_parted_by_any_sign(team: Team, now: datetime) -> None:
    content = lines("Number,Name,Crew roles", '9,Ba,"Catcher; VACCINATOR / crew lead,recorder+driver"')
    assert check(team.site, now, content).people[0].new_roles == [
        "catcher",
        "vaccinator",
        "lead",
        "recorder",
        "driver",
    ]


def test_the_check_asks_the_database_as_often_for_many_people_as_for_one(
    team: Team, now: datetime, django_assert_max_num_queries: object
) -> None:
    many = lines(HEADER, *(f"{n},P{n},,,,2026-01-05,2026-01-12,2026-01-26" for n in range(100, 400)))
    bring_in(team.officer, team.site, now, many)
    with django_assert_max_num_queries(9):  # type: ignore[operator]  # one of them asks who the officer is
        check(team.site, now, many)
