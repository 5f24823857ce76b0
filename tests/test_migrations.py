"""The migrations and the models say the same."""

from __future__ import annotations

import pytest
from django.core.management import call_command


@pytest.mark.django_db
def test_no_model_change_waits_for_a_migration() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
