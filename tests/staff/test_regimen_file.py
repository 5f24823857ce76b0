"""The regimen table as a file: its schema, out and in again, and every fault by row and field."""

from __future__ import annotations

import io
import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from jsonschema import Draft202012Validator

from staff.ground.errors import Invalid, NotAllowed
from staff.models import Purpose, Regimen, RegimenMove, Route
from staff.selectors.regimen.regimens import regimens_to_export
from staff.services.regimen.regimen_file import regimen_schema, regimens_import, regimens_text
from staff.services.regimen.regimens import regimens_load
from tests.factories import REGIMENS, Team

ROWS: list[dict[str, Any]] = json.loads(REGIMENS.read_text())


def changed(index: int = 0, **fields: Any) -> bytes:
    """One row under a new code with some fields changed, as the bytes of a file."""
    return json.dumps([ROWS[index] | {"code": "ours"} | fields]).encode()


def step(index: int, **fields: Any) -> list[dict[str, Any]]:
    steps = [dict(one) for one in ROWS[0]["steps"]]
    steps[index] |= fields
    return steps


def faults(team: Team, content: bytes, now: datetime) -> list[str]:
    """What an import is refused with; nothing may have been written."""
    before = (Regimen.objects.count(), RegimenMove.objects.count())
    with pytest.raises(Invalid) as refused:
        regimens_import(actor=team.officer, content=content, now=now)
    assert (Regimen.objects.count(), RegimenMove.objects.count()) == before
    return refused.value.fields["file"].splitlines()


def test_the_schema_is_one_and_the_samples_keep_it() -> None:
    schema = regimen_schema()
    Draft202012Validator.check_schema(schema)
    assert not list(Draft202012Validator(schema).iter_errors(ROWS))


def test_the_words_of_the_schema_are_those_of_the_table() -> None:
    row = regimen_schema()["$defs"]["regimen"]["properties"]
    assert row["purpose"]["enum"] == list(Purpose.values)
    assert row["routes"]["items"]["enum"] == list(Route.values)
    assert row["for_whom"]["enum"] == list(Regimen.ForWhom.values)
    assert row["source_kind"]["enum"] == list(Regimen.SourceKind.values)


def test_what_is_exported_is_the_file_that_was_loaded_to_the_letter(team: Team) -> None:
    assert regimens_text(regimens=list(regimens_to_export())) == REGIMENS.read_text(encoding="utf-8")


def test_loading_and_importing_the_same_file_again_changes_nothing(team: Team, now: datetime) -> None:
    assert regimens_load(path=REGIMENS, now=now) == 0
    done = regimens_import(actor=team.officer, content=REGIMENS.read_bytes(), now=now)
    assert (done.drafts, done.unchanged) == ((), len(ROWS))


def test_what_is_imported_is_a_draft_of_whoever_imports(team: Team, now: datetime) -> None:
    done = regimens_import(actor=team.officer, content=changed(), now=now)
    draft = Regimen.objects.get(code="ours")
    assert done.drafts == (draft,)
    assert (draft.state, draft.drafted_by, draft.steps.count()) == ("draft", team.officer, 3)
    assert draft not in regimens_to_export()


def test_a_version_that_stands_is_never_overwritten(team: Team, now: datetime) -> None:
    rows = [ROWS[1] | {"code": "ours"}, ROWS[0] | {"name": "Other words"}]
    assert faults(team, json.dumps(rows).encode(), now) == [
        "Row 2 (prep-im-0-7-21), field “version”: version 1 stands and differs; a change is a new version."
    ]


def test_a_member_imports_nothing(team: Team, now: datetime) -> None:
    with pytest.raises(NotAllowed):
        regimens_import(actor=team.member, content=changed(), now=now)


ROW = "Row 1 (ours)"
BROKEN: list[tuple[dict[str, Any], str]] = [
    ({"purpose": "cure"}, f"{ROW}, field “purpose”: must be one of pre-exposure, post-exposure"),
    ({"for_whom": "dogs"}, f"{ROW}, field “for_whom”: must be one of anyone, not-immunised"),
    ({"source_kind": "rumour"}, f"{ROW}, field “source_kind”: must be one of published, second-hand, memory"),
    ({"routes": []}, f"{ROW}, field “routes”: needs at least 1 entry."),
    ({"routes": ["IM", "mouth"]}, f"{ROW}, field “routes”: must be one of IM, ID."),
    ({"routes": ["IM", "IM"]}, f"{ROW}, field “routes”: names the same thing twice."),
    ({"version": 0}, f"{ROW}, field “version”: must be 1 or more."),
    ({"version": True}, f"{ROW}, field “version”: must be of the kind “whole number”."),
    ({"version": 99999}, f"{ROW}, field “version”: must be 32767 or less."),
    ({"name": "x" * 161}, f"{ROW}, field “name”: may hold at most 160 characters."),
    ({"source": "  "}, f"{ROW}, field “source”: is empty"),
    ({"grace": 4}, f"{ROW}: not part of the format: grace."),
    ({"steps": []}, f"{ROW}, field “steps”: needs at least 1 entry."),
    ({"steps": step(1, day="7")}, f"{ROW}, step 2, field “day”: must be of the kind “whole number”."),
    ({"steps": step(1, day=7.5)}, f"{ROW}, step 2, field “day”: must be of the kind “whole number”."),
    ({"steps": step(1, later=1)}, f"{ROW}, step 2, field “later”: must be of the kind “true or false”."),
    ({"steps": step(2, grace=4)}, f"{ROW}, step 3: not part of the format: grace."),
    (
        {"steps": [{"number": 1, "day": 0}]},
        f"{ROW}, step 1: missing: latest_day, smallest_gap, injections, later.",
    ),
    ({"steps": step(0, day=1, latest_day=1)}, f"{ROW}: Step 1, day: the first step is day 0."),
    ({"steps": step(2, smallest_gap=15)}, f"{ROW}: Step 3, smallest gap: can't be longer"),
    ({"steps": step(2, latest_day=20)}, f"{ROW}: Step 3, last day of the window: the window can't end"),
    ({"steps": step(2, number=4)}, f"{ROW}: Step 3, number: number the steps 1, 2, 3"),
]


@pytest.mark.parametrize(("fields", "words"), BROKEN)
def test_a_fault_names_its_row_step_and_field(
    team: Team, now: datetime, fields: dict[str, Any], words: str
) -> None:
    told = faults(team, changed(**fields), now)
    assert any(one.startswith(words) for one in told), told


def test_every_fault_of_every_row_is_told_at_once(team: Team, now: datetime) -> None:
    rows = [
        ROWS[0] | {"code": "a", "purpose": "cure"},
        ROWS[1] | {"code": "b"},
        ROWS[2] | {"code": "c", "version": 0},
    ]
    told = faults(team, json.dumps(rows).encode(), now)
    assert [one.split(",")[0] for one in told] == ["Row 1 (a)", "Row 3 (c)"]


def test_the_same_version_twice_in_a_file_names_both_rows(team: Team, now: datetime) -> None:
    rows = [ROWS[0] | {"code": "a"}, ROWS[1], ROWS[0] | {"code": "a"}]
    told = faults(team, json.dumps(rows).encode(), now)
    assert told == ["Row 3 (a), field “version”: the same code and version stand in row 1."]


NO_TABLE = {
    b"": "Line 1, character 1: this is no JSON",
    b'[{"code": "a",}]': "Line 1, character 15: this is no JSON",
    b"\xff\xfe[": "The file isn't UTF-8 text",
    b'{"code": "a"}': "The file: must be of the kind “list”.",
    b"[]": "The file: needs at least 1 entry.",
    b"[1]": "Row 1: must be of the kind “row of named fields”.",
    b'[{"code": "a", "code": "b"}]': "The field “code” stands twice in one row or step.",
    b"[" * 100_000: "The file is nested too deeply",
    b"[" + b"9" * 5000 + b"]": "The file is nested too deeply or holds a number that is too long.",
    b" " * 1_000_001: "The file is larger than 1 MB",
}


@pytest.mark.parametrize("content", NO_TABLE)
def test_what_is_no_table_is_refused_with_the_reason(team: Team, now: datetime, content: bytes) -> None:
    assert faults(team, content, now)[0].startswith(NO_TABLE[content])


def test_a_whole_number_written_with_a_point_is_taken_as_one(team: Team, now: datetime) -> None:
    regimens_import(actor=team.officer, content=changed(version=2.0, steps=step(1, day=7.0)), now=now)
    draft = Regimen.objects.get(code="ours")
    assert (draft.version, [one.day for one in draft.steps.all()]) == (2, [0, 7, 21])


def test_the_commands_write_the_table_and_bring_it_in(team: Team, tmp_path: Path) -> None:
    out = tmp_path / "table.json"
    call_command("export_regimens", str(out))
    assert out.read_text() == REGIMENS.read_text()
    file = tmp_path / "ours.json"
    file.write_bytes(changed())
    said = io.StringIO()
    call_command("import_regimens", str(file), by="officer", stdout=said)
    assert "draft ours v1" in said.getvalue()
    file.write_bytes(changed(purpose="cure"))
    with pytest.raises(CommandError, match="field “purpose”"):
        call_command("import_regimens", str(file), by="officer")
    for by in ("member", "nobody"):
        with pytest.raises(CommandError):
            call_command("import_regimens", str(file), by=by)
    with pytest.raises(CommandError, match="can't be read"):
        call_command("import_regimens", str(tmp_path / "none.json"), by="officer")
