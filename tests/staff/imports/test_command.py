"""The same import from the command line."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import override_settings

from tests.factories import Team
from tests.staff.imports.lists import FIXTURES, everything, lines

pytestmark = pytest.mark.django_db
SAMPLE, PROBLEMS = FIXTURES / "staff_sample.csv", FIXTURES / "staff_sample_problems.csv"


def command(path: Path, **options: object) -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    given = {"site": "hillside", "by": "officer", "evidence": "certificate-seen"} | options
    call_command("import_staff", path, stdout=out, stderr=err, **given)
    return out.getvalue(), err.getvalue()


def test_the_sample_comes_in_with_progress_and_a_second_run_writes_nothing(team: Team) -> None:
    out, err = command(SAMPLE, date_format="day-month-year")
    assert "200 people added" in out and "550 doses added" in out and "180 briefings added" in out
    assert "200 of 200 people written" in err
    before = everything()
    out, _ = command(SAMPLE, date_format="day-month-year")
    assert "550 doses unchanged" in out and "nothing was written" in out
    assert everything() == before


def test_a_check_reports_and_writes_nothing_and_needs_no_evidence(team: Team) -> None:
    before = everything()
    out, _ = command(SAMPLE, date_format="day-month-year", check=True, evidence=None)
    assert "200 people added" in out and "Checked only" in out
    assert everything() == before


@pytest.mark.parametrize("check", [True, False])
def test_problems_are_listed_by_row_and_column_and_end_with_exit_code_1(
    team: Team, check: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    before = everything()
    with pytest.raises(CommandError, match=r"18 problem\(s\): nothing was written") as caught:
        call_command("import_staff", PROBLEMS, site="hillside", by="officer", evidence="none", check=check)
    assert caught.value.returncode == 1
    out = capsys.readouterr().out
    assert "PROBLEM row 3 F Dose 1: “03/04/2026” may be" in out
    assert "people added" not in out
    assert everything() == before


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"by": "stranger"}, "isn't the safety officer"),
        ({"by": "liaison"}, "isn't the safety officer"),
        ({"by": "nobody"}, "no user 'nobody'"),
        ({"site": "nowhere"}, "no site 'nowhere'"),
        ({"evidence": None}, "--evidence"),
    ],
)
def test_who_and_where_and_on_what_evidence_must_be_said(
    team: Team, options: dict[str, object], words: str
) -> None:
    before = everything()
    with pytest.raises(CommandError, match=words):
        command(SAMPLE, date_format="day-month-year", **options)
    assert everything() == before


def test_a_file_that_isnt_there_or_is_too_large_is_refused(team: Team, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="can't be read"):
        command(tmp_path / "none.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(lines("Number,Name", "1,Ba"))
    with override_settings(IMPORT_MAX_BYTES=5), pytest.raises(CommandError, match="larger than"):
        command(large)
