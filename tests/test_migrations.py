"""The migrations and the models say the same, by one way alone."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db.migrations.loader import MigrationLoader


@pytest.mark.django_db
def test_no_model_change_waits_for_a_migration() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_no_migration_that_another_one_replaced_is_kept() -> None:
    ours = [
        migration
        for (package, _name), migration in MigrationLoader(None).disk_migrations.items()
        if package in {"staff", "safety"}
    ]
    assert ours
    assert not [migration.name for migration in ours if migration.replaces]
