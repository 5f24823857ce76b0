"""What some tests need and a machine may lack: marks that skip with a reason, or refuse to skip in CI.

Use as a mark: `@needs.chromium()` or `pytestmark = needs.postgres()`. A run on the embedded default can't
exercise PostgreSQL or Redis; CI makes one run of each kind and names what the other one covers in
NEEDS_COVERED_ELSEWHERE, so nothing is skipped in both.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping

import pytest

BROWSERS = ("chromium", "chromium-browser")
# Where a test that asks for no database is about our own sentences, rules and files: the same on every engine.
PURE = (
    "tests/config/test_launch_bootstrap.py",
    "tests/config/test_launch_keeper.py",
    "tests/config/test_launch_suite.py",
    "tests/safety/animal/test_rules.py",
    "tests/safety/feed/test_file.py",
    "tests/safety/places/",
    "tests/safety/rules/",
    "tests/safety/test_words.py",
    "tests/staff/imports/",
    "tests/staff/planning/",
    "tests/staff/rules/",
    "tests/test_architecture.py",
    "tests/test_documents.py",
)
DATABASE = frozenset({"db", "transactional_db", "django_db_setup"})


class MissingInCI(Exception):
    """CI must run everything; the text says what to install or set."""


def chromium_path() -> str | None:
    """Where Chromium is on this machine, or None."""
    return next((path for path in map(shutil.which, BROWSERS) if path), None)


def lacks(environment: Mapping[str, str]) -> dict[str, str]:
    """For each need that this run can't meet, a sentence that says what to do."""
    missing: dict[str, str] = {}
    if chromium_path() is None:
        missing["chromium"] = "no Chromium here; install the package chromium"
    if not environment.get("DATABASE_URL", "").startswith(("postgres://", "postgresql://")):
        missing["postgres"] = "no PostgreSQL in this run; set DATABASE_URL=postgres://user@127.0.0.1/name"
    if not environment.get("REDIS_URL"):
        missing["redis"] = "no Redis in this run; set REDIS_URL=redis://127.0.0.1:6379/5"
    return missing


def need(name: str, environment: Mapping[str, str] = os.environ) -> pytest.MarkDecorator:
    """A mark that skips when `name` is lacking; raises MissingInCI where skipping is not allowed."""
    reason = lacks(environment).get(name)
    covered = environment.get("NEEDS_COVERED_ELSEWHERE", "").split(",")
    if reason and environment.get("CI", "").lower() in {"1", "true"} and name not in covered:
        raise MissingInCI(f"CI runs every test, but there is {reason}.")
    return pytest.mark.skipif(reason is not None, reason=reason or f"{name} is here")


def chromium() -> pytest.MarkDecorator:
    return need("chromium")


def postgres() -> pytest.MarkDecorator:
    return need("postgres")


def redis() -> pytest.MarkDecorator:
    return need("redis")


def once(environment: Mapping[str, str] = os.environ) -> pytest.MarkDecorator:
    """A mark for what no database or broker changes: a run that names "once" in NEEDS_COVERED_ELSEWHERE leaves it out."""
    covered = "once" in environment.get("NEEDS_COVERED_ELSEWHERE", "").split(",")
    return pytest.mark.skipif(covered, reason="the same on every database: covered by the other run")


def asks_for_database(item: pytest.Item) -> bool:
    asked = getattr(item, "fixturenames", ())
    return item.get_closest_marker("django_db") is not None or not DATABASE.isdisjoint(asked)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What asks for no database, where that says that none can change it, is run once."""
    for item in items:
        if item.nodeid.startswith(PURE) and not asks_for_database(item):
            item.add_marker(once())


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say at the end what this run could not exercise, and what to do about it."""
    for reason in lacks(os.environ).values():
        terminalreporter.write_line(f"skipped: {reason}")
