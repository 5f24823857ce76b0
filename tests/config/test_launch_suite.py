"""`manage.py test`: a data folder of its own, pytest's exit code, and no silent skip in CI."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests import needs
from tests.config.processes import CHECKOUT


def run_suite(folder: Path, test: str) -> subprocess.CompletedProcess[str]:
    (folder / "test_small.py").write_text(test)
    command = [
        sys.executable,
        "manage.py",
        "test",
        "-c",
        "pyproject.toml",
        "-p",
        "no:cacheprovider",
        str(folder),
    ]
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    environment |= {"THREE_FIFTEEN_NO_BOOTSTRAP": "1", "DATA_DIR": "data"}
    return subprocess.run(command, cwd=CHECKOUT, env=environment, capture_output=True, text=True, timeout=60)


@pytest.mark.slow
def test_the_suite_runs_in_a_fresh_data_folder_that_is_gone_afterwards(tmp_path: Path) -> None:
    test = f"import os\ndef test_where():\n    open({str(tmp_path / 'where')!r}, 'w').write(os.environ['DATA_DIR'])\n"
    ended = run_suite(tmp_path, test)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    where = Path((tmp_path / "where").read_text())
    assert where.is_absolute()
    assert CHECKOUT not in where.parents
    assert not where.exists()


@pytest.mark.slow
def test_a_failing_test_and_a_skip_are_told(tmp_path: Path) -> None:
    test = "import pytest\n@pytest.mark.skip(reason='no tap here')\ndef test_a(): ...\ndef test_b(): assert not 1\n"
    ended = run_suite(tmp_path, test)
    assert ended.returncode == 1
    assert "no tap here" in ended.stdout
    assert "1 failed, 1 skipped" in ended.stdout


def test_what_is_lacking_is_skipped_with_its_remedy() -> None:
    mark = needs.need("redis", {}).mark
    assert mark.args == (True,)
    assert "no Redis in this run; set REDIS_URL=" in mark.kwargs["reason"]


def test_what_is_there_is_not_skipped() -> None:
    there = {"DATABASE_URL": "postgres://a@127.0.0.1/b", "REDIS_URL": "redis://127.0.0.1", "CI": "true"}
    assert needs.need("postgres", there).mark.args == (False,)
    assert needs.need("redis", there).mark.args == (False,)


def test_ci_refuses_to_skip_unless_its_other_run_covers_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(needs, "chromium_path", lambda: None)
    first = {"CI": "true", "NEEDS_COVERED_ELSEWHERE": "postgres,redis"}
    assert needs.need("postgres", first).mark.args == (True,)
    with pytest.raises(needs.MissingInCI, match="install the package chromium"):
        needs.need("chromium", first)
    with pytest.raises(needs.MissingInCI, match="DATABASE_URL"):
        needs.need("postgres", {"CI": "true"})


def test_what_one_run_of_ci_leaves_out_the_other_one_runs() -> None:
    said = re.findall(r"NEEDS_COVERED_ELSEWHERE=(\S+)", (CHECKOUT / ".ci" / "run").read_text())
    assert [set(names.split(",")) for names in said] == [{"postgres", "redis"}, {"once"}]
    embedded = {"NEEDS_COVERED_ELSEWHERE": said[0]}
    assert needs.once(embedded).mark.args == (False,)


@pytest.mark.django_db
def test_a_test_that_asks_for_a_database_is_never_among_those_that_run_once(
    request: pytest.FixtureRequest,
) -> None:
    assert needs.asks_for_database(request.node)


def test_a_test_of_sentences_and_files_asks_for_no_database(request: pytest.FixtureRequest) -> None:
    assert not needs.asks_for_database(request.node)
