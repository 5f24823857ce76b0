"""The sizes of the house hold, and each measure of them would fall short where one is passed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import house
from tests.house import MEASURES, Measure


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.name)
def test_the_house_keeps_its_size(measure: Measure) -> None:
    found, where = measure.find()
    assert found <= measure.limit, where


def write(root: Path, name: str, text: str) -> None:
    (root / name).parent.mkdir(parents=True, exist_ok=True)
    (root / name).write_text(text)


def view(lines: int) -> str:
    body = "    shown = 1\n" * (lines - 2)
    return f"@page(OFFICER)\ndef shown(request: Request) -> Answer:\n{body}    return shown\n\n\n"


def build(root: Path, over: int) -> None:
    """A made-up house: with `over` 0 each measure is just at its limit, with 1 it is one past it."""
    write(root, "staff/pages/views.py", view(10 + over) + view(10 + over) + view(20 + over))
    write(root, "staff/long.py", "lines = 1\n" * (250 + over))
    write(root, "tests/test_long.py", "lines = 1\n" * (400 + over))
    for number in range(14 + over):
        write(root, f"safety/rules/part{number}.py", "part = 1\n")
    write(root, "safety/templates/page.html", "short\n" + "x" * (120 + over) + "\n")
    parts = "".join(f"from safety.rules import part{number}\n" for number in range(13))
    write(root, "safety/pages/many.py", "".join(parts.splitlines(keepends=True)[: 12 + over]))
    # A table of addresses names every page there is.
    write(root, "safety/urls.py", parts)
    write(root, "config/first.py", "from config import second\n" * over)
    write(root, "config/second.py", "from config import first\n")
    write(root, "config/third.py", f"def third(){'' if over else ' -> None'}:\n    return None\n")


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.name)
def test_a_measure_holds_at_its_limit_and_falls_short_one_past_it(
    measure: Measure, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for over in (0, 1):
        root = tmp_path / str(over)
        build(root, over)
        monkeypatch.setattr(house, "ROOT", root)
        found, _where = measure.find()
        assert found > measure.limit if over else found == measure.limit


def test_the_command_says_what_falls_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(house, "ROOT", tmp_path)
    build(tmp_path, 1)
    assert house.main() == 1
    said = capsys.readouterr().out.splitlines()
    assert len(said) == len(MEASURES) and all(line.startswith("short") for line in said)
    assert "short  lines of a file, longest: 251 (at most 250) staff/long.py" in said
