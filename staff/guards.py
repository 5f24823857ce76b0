"""Database triggers that hold the roster promise and keep the record append-only, on both engines.

The assignment trigger locks (PostgreSQL: FOR SHARE; SQLite: one writer at a time) the outing and the
clearance it rests on, then checks them: a trigger that only looks lets races through. `install` is
idempotent and runs after every migrate; `require` refuses to start a process on a database without them.
"""

from __future__ import annotations

from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

NOT_CLEARED = "not-cleared"
APPEND_ONLY = "append-only"

# table, and the columns that may still be set once a row stands.
APPEND_ONLY_TABLES: dict[str, tuple[str, ...]] = {
    "staff_auditentry": (),
    "staff_withdrawal": (),
    "staff_dose": ("voided_at", "voided_by_id", "void_reason"),
    "staff_clearance": ("superseded_on",),
}

_COVERED = """
    c.person_id = {row}.person_id AND c.superseded_on IS NULL
    AND c.starts_on <= o.date AND (c.ends_on IS NULL OR c.ends_on >= o.date)
"""


class GuardsMissing(SystemExit):
    """Raised at start; the text says which triggers are missing and what puts them back."""


def _sqlite(columns: dict[str, list[str]]) -> dict[str, str]:
    allowed = f"""
        SELECT 1 FROM staff_clearance c JOIN staff_outing o ON o.id = NEW.outing_id
        JOIN staff_crew w ON w.id = NEW.crew_id AND w.outing_id = o.id
        WHERE c.id = NEW.clearance_id AND o.cancelled_at IS NULL AND {_COVERED.format(row="NEW")}
    """
    statements = {
        f"staff_assignment_guard_{event}": f"""
        CREATE TRIGGER staff_assignment_guard_{event} BEFORE {event.upper()} ON staff_assignment BEGIN
            SELECT RAISE(ABORT, '{NOT_CLEARED}') WHERE NOT EXISTS ({allowed});
        END"""
        for event in ("insert", "update")
    }
    for event, when in (("update", "BEFORE UPDATE OF date"), ("replace", "BEFORE INSERT")):
        statements[f"staff_outing_guard_{event}"] = f"""
        CREATE TRIGGER staff_outing_guard_{event} {when} ON staff_outing BEGIN
            SELECT RAISE(ABORT, '{NOT_CLEARED}') WHERE EXISTS (
                SELECT 1 FROM staff_assignment a JOIN staff_clearance c ON c.id = a.clearance_id
                WHERE a.outing_id = NEW.id AND NOT (
                    c.superseded_on IS NULL AND c.starts_on <= NEW.date
                    AND (c.ends_on IS NULL OR c.ends_on >= NEW.date)));
        END"""
    statements["staff_clearance_in_use"] = f"""
        CREATE TRIGGER staff_clearance_in_use BEFORE UPDATE OF superseded_on ON staff_clearance BEGIN
            SELECT RAISE(ABORT, '{NOT_CLEARED}') WHERE OLD.superseded_on IS NOT NULL OR EXISTS (
                SELECT 1 FROM staff_assignment a JOIN staff_outing o ON o.id = a.outing_id
                WHERE a.clearance_id = OLD.id AND o.date >= NEW.superseded_on);
        END"""
    for table, free in APPEND_ONLY_TABLES.items():
        kept = [column for column in columns[table] if column not in free]
        changed = " OR ".join(f'NEW."{column}" IS NOT OLD."{column}"' for column in kept)
        statements[f"{table}_kept_update"] = f"""
        CREATE TRIGGER {table}_kept_update BEFORE UPDATE ON {table} WHEN {changed} BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}');
        END"""
        # REPLACE deletes without firing delete triggers, so an existing id is refused at insert too.
        statements[f"{table}_kept_replace"] = f"""
        CREATE TRIGGER {table}_kept_replace BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id) BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}');
        END"""
        statements[f"{table}_kept_delete"] = _sqlite_delete_guard(table)
    statements["staff_dose_void_stands"] = f"""
        CREATE TRIGGER staff_dose_void_stands BEFORE UPDATE ON staff_dose WHEN OLD.voided_at IS NOT NULL BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}');
        END"""
    return statements


def _sqlite_delete_guard(table: str) -> str:
    # An unused clearance may go (it is a projection); everything else of these tables stays.
    when = (
        "WHEN EXISTS (SELECT 1 FROM staff_assignment WHERE clearance_id = OLD.id)"
        if table == "staff_clearance"
        else ""
    )
    return f"""
        CREATE TRIGGER {table}_kept_delete BEFORE DELETE ON {table} {when} BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}');
        END"""


def _postgres_functions() -> list[str]:
    return [
        f"""
        CREATE OR REPLACE FUNCTION staff_assignment_guard() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            PERFORM 1 FROM staff_outing WHERE id = NEW.outing_id FOR SHARE;
            PERFORM 1 FROM staff_clearance WHERE id = NEW.clearance_id FOR SHARE;
            IF NOT EXISTS (
                SELECT 1 FROM staff_clearance c JOIN staff_outing o ON o.id = NEW.outing_id
                JOIN staff_crew w ON w.id = NEW.crew_id AND w.outing_id = o.id
                WHERE c.id = NEW.clearance_id AND o.cancelled_at IS NULL AND {_COVERED.format(row="NEW")}
            ) THEN RAISE EXCEPTION '{NOT_CLEARED}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_outing_guard() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            PERFORM 1 FROM staff_clearance WHERE id IN (
                SELECT clearance_id FROM staff_assignment WHERE outing_id = NEW.id) ORDER BY id FOR SHARE;
            IF EXISTS (
                SELECT 1 FROM staff_assignment a JOIN staff_clearance c ON c.id = a.clearance_id
                WHERE a.outing_id = NEW.id AND NOT (
                    c.superseded_on IS NULL AND c.starts_on <= NEW.date
                    AND (c.ends_on IS NULL OR c.ends_on >= NEW.date))
            ) THEN RAISE EXCEPTION '{NOT_CLEARED}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_clearance_in_use() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF OLD.superseded_on IS NOT NULL OR EXISTS (
                SELECT 1 FROM staff_assignment a JOIN staff_outing o ON o.id = a.outing_id
                WHERE a.clearance_id = OLD.id AND o.date >= NEW.superseded_on
            ) THEN RAISE EXCEPTION '{NOT_CLEARED}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = 'check_violation';
        END $$""",
    ]


def _postgres(columns: dict[str, list[str]]) -> dict[str, str]:
    statements = {
        "staff_assignment_guard": """
        CREATE TRIGGER staff_assignment_guard BEFORE INSERT OR UPDATE ON staff_assignment
        FOR EACH ROW EXECUTE FUNCTION staff_assignment_guard()""",
        "staff_outing_guard": """
        CREATE TRIGGER staff_outing_guard BEFORE UPDATE OF date ON staff_outing
        FOR EACH ROW WHEN (NEW.date IS DISTINCT FROM OLD.date) EXECUTE FUNCTION staff_outing_guard()""",
        "staff_clearance_in_use": """
        CREATE TRIGGER staff_clearance_in_use BEFORE UPDATE OF superseded_on ON staff_clearance
        FOR EACH ROW EXECUTE FUNCTION staff_clearance_in_use()""",
        "staff_dose_void_stands": """
        CREATE TRIGGER staff_dose_void_stands BEFORE UPDATE ON staff_dose
        FOR EACH ROW WHEN (OLD.voided_at IS NOT NULL) EXECUTE FUNCTION staff_append_only()""",
    }
    for table, free in APPEND_ONLY_TABLES.items():
        kept = [column for column in columns[table] if column not in free]
        changed = " OR ".join(f'NEW."{column}" IS DISTINCT FROM OLD."{column}"' for column in kept)
        statements[f"{table}_kept_update"] = f"""
        CREATE TRIGGER {table}_kept_update BEFORE UPDATE ON {table}
        FOR EACH ROW WHEN ({changed}) EXECUTE FUNCTION staff_append_only()"""
        if table != "staff_clearance":  # an unused clearance may go; a used one is held by its foreign key
            statements[f"{table}_kept_delete"] = f"""
        CREATE TRIGGER {table}_kept_delete BEFORE DELETE ON {table}
        FOR EACH ROW EXECUTE FUNCTION staff_append_only()"""
    return statements


def _table_of(name: str) -> str:
    tables = ("staff_assignment", "staff_outing", *APPEND_ONLY_TABLES)
    return next(table for table in tables if name.startswith(table))


def _statements(connection: BaseDatabaseWrapper) -> dict[str, str]:
    with connection.cursor() as cursor:
        columns = {
            table: [column.name for column in connection.introspection.get_table_description(cursor, table)]
            for table in APPEND_ONLY_TABLES
        }
    # JSON has no equality on PostgreSQL's json type, but Django's JSONField is jsonb, which has.
    return _sqlite(columns) if connection.vendor == "sqlite" else _postgres(columns)


def install(connection: BaseDatabaseWrapper) -> None:
    """Put every guard in place, replacing what stands under its name."""
    statements = _statements(connection)
    remove(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            for function in _postgres_functions():
                cursor.execute(function)
        for statement in statements.values():
            cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the guards away: only for `install` and for emptying a test database."""
    with connection.cursor() as cursor:
        for name in _statements(connection):
            on = f" ON {_table_of(name)}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of the guards that do not stand; all of them before the first migrate. Disabled ones count."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')"
    )
    with connection.cursor() as cursor:
        tables = connection.introspection.table_names(cursor)
        if not {"staff_assignment", *APPEND_ONLY_TABLES} <= set(tables):
            return ["every guard: the tables are not there yet"]
        cursor.execute(query)
        standing = {row[0] for row in cursor.fetchall()}
    return sorted(set(_statements(connection)) - standing)


def require(using: str = "default") -> None:
    """Refuse to go on without the guards; raises `GuardsMissing`."""
    connection = connections[using]
    if gone := missing(connection):
        raise GuardsMissing(
            f"Refusing to start: the database lacks its guards ({', '.join(gone)}). "
            "Run `python3 manage.py migrate`, which puts them in place."
        )


def install_after_migrate(*, using: str, **_: Any) -> None:
    connection = connections[using]
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
    if {"staff_assignment", *APPEND_ONLY_TABLES} <= tables:
        install(connection)
