"""Database guards that hold the roster promise and keep the record append-only, on both engines.

The assignment trigger locks (PostgreSQL: FOR SHARE; SQLite: one writer at a time) the outing and the
clearance it rests on, then checks them: a trigger that only looks lets races through. `install` is
idempotent and runs after every migrate; `require` refuses to start a process on a database without them.

What they hold, whoever writes: an assignment rests on a current clearance of its person, of the outing's site, that
covers the date of an outing that isn't cancelled; nobody is on two outings of one date; an outing moves to no date on
which somebody on it isn't clear or is out elsewhere; what ended never stands again (roster). A site's people stay its
own, a check takes two people, nobody clears themself or gives themself a role, and a
role that waits is a row no reader of roles looks at, until a third account confirms it (people). A changed record marks its person (record). A version
of a regimen stays as it was listed (regimen). Doses are voided once; audit, withdrawals and intervals never change.
"""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from typing import Any

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from staff.guards.kept import (
    APPEND_ONLY_TABLES,
    postgres_kept_functions,
    postgres_kept_triggers,
    sqlite_kept_triggers,
)
from staff.guards.people import postgres_people_functions, postgres_people_triggers, sqlite_people_triggers
from staff.guards.record import (
    MARKING_TABLES,
    MARKS,
    postgres_record_functions,
    postgres_record_triggers,
    sqlite_record_triggers,
)
from staff.guards.regimen import (
    REGIMEN_TABLE,
    REGIMEN_TABLES,
    postgres_regimen_functions,
    postgres_regimen_triggers,
    sqlite_regimen_triggers,
)
from staff.guards.roster import (
    GUARDED_TABLES,
    READ_TABLES,
    postgres_roster_functions,
    postgres_roster_triggers,
    sqlite_roster_triggers,
)

# A trigger that names the columns of a table keeps them from being altered; these go before a migration.
_NAMES_COLUMNS = (
    "_kept_update",
    "_void_stands",
    f"{MARKS}update",
    "staff_regimen_kept_insert",
    "staff_regimen_kept_delete",
)
_TABLES = (*GUARDED_TABLES, *APPEND_ONLY_TABLES, *REGIMEN_TABLES, *MARKING_TABLES)


class GuardsMissing(SystemExit):
    """Raised at start; the text says which triggers are missing and what puts them back."""


def _table_of(name: str) -> str:
    return max((table for table in _TABLES if name.startswith(table)), key=len)


def _columns(connection: BaseDatabaseWrapper, table: str) -> list[str]:
    """As the database has them now; Django's own inspection of SQLite reads far more, and every start waits for it."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table} LIMIT 0")
        return [column[0] for column in cursor.description]


def _statements(connection: BaseDatabaseWrapper) -> dict[str, str]:
    columns = {table: _columns(connection, table) for table in (*APPEND_ONLY_TABLES, REGIMEN_TABLE)}
    # JSON has no equality on PostgreSQL's json type, but Django's JSONField is jsonb, which has.
    if connection.vendor == "sqlite":
        return (
            sqlite_roster_triggers()
            | sqlite_people_triggers()
            | sqlite_kept_triggers(columns)
            | sqlite_regimen_triggers(columns[REGIMEN_TABLE])
            | sqlite_record_triggers()
        )
    return (
        postgres_roster_triggers()
        | postgres_people_triggers()
        | postgres_kept_triggers(columns)
        | postgres_regimen_triggers(columns[REGIMEN_TABLE])
        | postgres_record_triggers()
    )


def install(connection: BaseDatabaseWrapper) -> None:
    """Put every guard in place, replacing what stands under its name."""
    statements = _statements(connection)
    with _at_once(connection), connection.cursor() as cursor:
        _drop(connection, list(statements))
        if connection.vendor == "postgresql":
            for function in (
                *postgres_roster_functions(),
                *postgres_kept_functions(),
                *postgres_people_functions(),
                *postgres_regimen_functions(),
                *postgres_record_functions(),
            ):
                cursor.execute(function)
        for statement in statements.values():
            cursor.execute(statement)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the guards away: only for emptying a test database."""
    with _at_once(connection):
        _drop(connection, list(_statements(connection)))


def _at_once(connection: BaseDatabaseWrapper) -> AbstractContextManager[None]:
    """On SQLite one transaction: else each of the hundreds of statements waits for the disk by itself."""
    return transaction.atomic(using=connection.alias) if connection.vendor == "sqlite" else nullcontext()


def _drop(connection: BaseDatabaseWrapper, names: list[str]) -> None:
    with connection.cursor() as cursor:
        for name in names:
            on = f" ON {_table_of(name)}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on}")


def missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of the guards that do not stand; all of them before the first migrate. Disabled ones count."""
    if not _tables_stand(connection):
        return ["every guard: the tables are not there yet"]
    return sorted(set(_statements(connection)) - _standing(connection))


def _standing(connection: BaseDatabaseWrapper) -> set[str]:
    """Names of the triggers that stand and are enabled."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        return {row[0] for row in cursor.fetchall()}


def require(using: str = "default") -> None:
    """Refuse to go on without the guards; raises `GuardsMissing`."""
    connection = connections[using]
    if gone := missing(connection):
        raise GuardsMissing(
            f"Refusing to start: the database lacks its guards ({', '.join(gone)}). "
            "Run `python3 manage.py migrate`, which puts them in place."
        )


def _tables_stand(connection: BaseDatabaseWrapper) -> bool:
    with connection.cursor() as cursor:
        return {*_TABLES, *READ_TABLES} <= set(connection.introspection.table_names(cursor))


def remove_before_migrate(*, using: str, plan: list[Any], **_: Any) -> None:
    """Make way for a migration; one that fails leaves guards missing, and nothing starts until one succeeds.

    SQLite re-makes tables, which a trigger of another table that names them forbids: all go. PostgreSQL
    keeps the roster's guards through the migration and lets go of the triggers that pin columns.
    """
    connection = connections[using]
    if plan:
        # By what stands: the tables that this version guards besides may come with this very migration.
        names = sorted(name for name in _standing(connection) if name.startswith(_TABLES))
        if connection.vendor == "postgresql":
            names = [name for name in names if name.endswith(_NAMES_COLUMNS)]
        _drop(connection, names)


def install_after_migrate(*, using: str, **_: Any) -> None:
    connection = connections[using]
    if _tables_stand(connection):
        install(connection)
