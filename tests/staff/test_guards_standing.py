"""The guards stand after every migration, and nothing starts without them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import CharField, Model

from staff import guards
from staff.guards import GuardsMissing
from staff.models import Assignment, AuditEntry, Crew, Dose, Outing, Withdrawal
from tests.factories import Team
from tests.staff.roster_case import sql

pytestmark = pytest.mark.django_db
SQLITE = connection.vendor == "sqlite"
only_sqlite = pytest.mark.skipif(not SQLITE, reason="SQLite's own syntax; PostgreSQL has no such statement")
CHECKOUT = Path(__file__).resolve().parent.parent.parent


def drop_one() -> None:
    on = "" if SQLITE else " ON staff_dose"
    sql(f"DROP TRIGGER staff_dose_kept_delete{on}")


def test_every_guard_stands_after_migrate_and_installing_again_changes_nothing(team: Team) -> None:
    assert guards.missing(connection) == []
    guards.install(connection)
    assert guards.missing(connection) == []


def test_a_missing_guard_is_named_and_refused_with_the_remedy(team: Team) -> None:
    drop_one()
    assert guards.missing(connection) == ["staff_dose_kept_delete"]
    with pytest.raises(GuardsMissing, match="staff_dose_kept_delete.*manage.py migrate"):
        guards.require()


@pytest.mark.skipif(SQLITE, reason="SQLite can't disable a trigger")
def test_a_disabled_guard_counts_as_missing(team: Team) -> None:
    sql("ALTER TABLE staff_assignment DISABLE TRIGGER staff_assignment_guard")
    assert guards.missing(connection) == ["staff_assignment_guard"]


def test_migrate_puts_a_missing_guard_back(team: Team) -> None:
    drop_one()
    call_command("migrate", verbosity=0)
    assert guards.missing(connection) == []


def _alter(editor: BaseDatabaseSchemaEditor, model: type[Model]) -> None:
    """Change a column and back: SQLite makes the table anew, PostgreSQL alters its type."""
    name = {Assignment: "role", Crew: "name", Outing: "area", AuditEntry: "action", Withdrawal: "reason"}.get(
        model, "void_reason"
    )
    old = model._meta.get_field(name)
    assert isinstance(old, CharField)
    new = CharField(max_length=(old.max_length or 0) + 20)
    new.set_attributes_from_name(name)
    new.model = model
    editor.alter_field(model, old, new, strict=True)
    editor.alter_field(model, new, old, strict=True)


def test_a_migration_may_remake_every_guarded_table_and_the_guards_are_back_after_it(
    real_transactions: None,
) -> None:
    guards.remove_before_migrate(using="default", plan=["something to do"])
    if SQLITE:
        assert len(guards.missing(connection)) > 15
    else:
        assert "staff_assignment_guard" not in guards.missing(connection)
    for model in (Assignment, Crew, Outing, AuditEntry, Withdrawal, Dose):
        with connection.schema_editor() as editor:
            _alter(editor, model)
    call_command("migrate", verbosity=0)
    assert guards.missing(connection) == []


@only_sqlite
def test_remaking_a_table_on_sqlite_drops_its_guards_and_starting_is_refused(real_transactions: None) -> None:
    guards.remove_before_migrate(using="default", plan=["something to do"])
    guards.install(connection)
    with connection.schema_editor() as editor:
        _alter(editor, AuditEntry)
    assert set(guards.missing(connection)) == {
        "staff_auditentry_kept_delete",
        "staff_auditentry_kept_replace",
        "staff_auditentry_kept_update",
    }
    with pytest.raises(GuardsMissing):
        guards.require()


def test_a_migrate_with_nothing_to_do_never_leaves_the_tables_bare(team: Team) -> None:
    guards.remove_before_migrate(using="default", plan=[])
    assert guards.missing(connection) == []


PROCESSES = {
    "web": ["-c", "import config.wsgi"],
    "worker": ["-m", "celery", "-A", "config.celery:app", "worker", "--pool", "solo"],
    "clock": ["-m", "celery", "-A", "config.celery:app", "beat", "--schedule", "beat-here", "--pidfile", ""],
    "loop": ["-m", "django", "send_due", "--loop", "1"],
}


@pytest.mark.slow
def test_no_process_starts_on_a_database_without_a_guard(real_transactions: None, tmp_path: Path) -> None:
    drop_one()
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
        "FAULTS_DATABASE": str(connection.settings_dict["NAME"]),
        "DATA_DIR": str(tmp_path),
        "PYTHONPATH": str(CHECKOUT),
        "DEMO": "1",
    }
    started = {
        name: subprocess.Popen(
            [sys.executable, *command],
            cwd=tmp_path,
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        for name, command in PROCESSES.items()
    }
    for name, process in started.items():
        said = process.communicate(timeout=90)[1]
        assert process.returncode != 0, name
        assert "staff_dose_kept_delete" in said, f"{name}: {said[-800:]}"
    guards.install(connection)
