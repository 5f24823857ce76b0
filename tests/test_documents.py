"""What the documents say is true: variables, commands, files and the README's opening."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from config.env import VARIABLES

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def test_every_variable_of_the_environment_stands_in_developers_md_with_its_meaning() -> None:
    rows = dict(re.findall(r"^\| `([A-Z_]+)` \| (.+) \|$", DEVELOPERS, re.M))
    assert rows == VARIABLES


def test_every_command_of_ours_stands_in_developers_md() -> None:
    ours = {name for name, app in get_commands().items() if app in {"staff", "safety"}} | {"up", "test"}
    assert set(re.findall(r"^\| `manage\.py ([a-z_]+)", DEVELOPERS, re.M)) == ours


def test_the_readme_opens_with_the_job_and_the_caution_before_any_command() -> None:
    job = README.index("keeps those people safe")
    caution = README.index("Local health authorities and clinicians decide treatment")
    assert job < caution < README.index("python3 manage.py up")


def test_ci_runs_the_readmes_test_command() -> None:
    assert "python3 manage.py test" in README
    assert "python3 manage.py test" in (ROOT / ".ci" / "run").read_text()


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_file_a_document_names_exists(document: str) -> None:
    text = (ROOT / document).read_text()
    named = set(re.findall(r"`((?:config|staff|safety|tests|fixtures)/[\w/.-]+)`", text))
    named |= set(re.findall(r"\]\(([\w/.-]+)\)", text))
    assert named, "the document names no file: the pattern is wrong"
    assert not {name for name in named if not (ROOT / name).exists()}


def test_no_lock_names_a_host() -> None:
    for lock in ("requirements.lock", "requirements-dev.lock"):
        assert "://" not in (ROOT / lock).read_text()


# A paper that somebody without it can't look up is no source: each figure names a published one, or says that it is
# common practice, or that it wasn't checked against the source.
_CITED = re.compile(r"\b([A-Z][A-Z_]{3,})(?:\.md\b|,? sections? \d)")
_PUBLISHED = {"RFC"}


def test_no_line_cites_a_paper_that_is_neither_published_nor_here() -> None:
    here = {path.stem for path in ROOT.glob("*.md")}
    wrong = [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for folder in ("config", "staff", "safety", "tests", "fixtures")
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in {".py", ".js", ".html", ".json", ".css"} and path != Path(__file__).resolve()
        for found in _CITED.finditer(path.read_text())
        if found[1] not in here | _PUBLISHED
    ]
    assert not wrong


def test_such_a_citation_would_be_found() -> None:
    for line in ("(PAPER section 5)", "see PAPER.md", "PAPER, sections 5 and 10"):
        assert _CITED.search(line)
