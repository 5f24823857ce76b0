"""Fixtures of the whole suite. `manage.py test` gives it a DATA_DIR of its own."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import override_settings
from whitenoise.middleware import WhiteNoiseMiddleware

from staff import guards
from staff.services.regimen.regimens import regimens_load
from tests.factories import REGIMENS, Team, make_team


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> None:
    """A test database needn't outlive a power cut, so nothing waits for the disk. What is started beside it does."""
    if connection.vendor == "sqlite":
        options = connection.settings_dict["OPTIONS"]
        options["init_command"] = options["init_command"].replace("synchronous=FULL", "synchronous=OFF")


@pytest.fixture(scope="session", autouse=True)
def _passwords_are_quick() -> Iterator[None]:
    with override_settings(PASSWORD_HASHERS=["tests.hashing.QuickArgon2"]):
        yield


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> None:
    """The sample regimens come with the program: they are loaded once, and every test begins with them."""
    with django_db_blocker.unblock():
        regimens_load(path=REGIMENS, now=datetime(2026, 3, 2, 6, 0, tzinfo=UTC))


@pytest.fixture(scope="session", autouse=True)
def _static_files_listed_once() -> Iterator[None]:
    """Every new client would look for all static files anew, for longer than many a page takes; none changes here."""
    look_for_all = WhiteNoiseMiddleware.add_files_from_finders
    found: dict[str, Any] = {}

    def list_once(server: WhiteNoiseMiddleware) -> None:
        if not found:
            look_for_all(server)
            found.update(server.files)
        server.files.update(found)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(WhiteNoiseMiddleware, "add_files_from_finders", list_once)
        yield


@pytest.fixture
def now() -> datetime:
    """A Monday morning in Nairobi (09:00), used wherever a test doesn't care which day it is."""
    return datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _certificates_of_the_test(tmp_path: Path, settings: Any) -> None:
    """Documents are files: those of a test go into its own folder."""
    settings.CERTIFICATE_DIR = tmp_path / "certificates"


@pytest.fixture
def team(db: Any, now: datetime) -> Team:
    """Three named people at one site and a stranger at another, with approved regimens; see tests/factories.py."""
    return make_team(now)


@pytest.fixture
def real_transactions(transactional_db: Any) -> Iterator[None]:
    """For threads and processes. The guards refuse deletion, so they go before the database is emptied."""
    yield
    guards.remove(connection)
