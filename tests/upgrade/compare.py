"""What a database says, read without any model: rows of every table, notices, voided entries, ended assignments."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

_TABLES = {
    True: "SELECT tablename FROM pg_tables WHERE schemaname = 'public'",
    False: "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'",
}
# Tables whose rows a migration adds to, each with the reason.
ADDED = {
    "django_migrations": "the migrations themselves",
    "staff_assignment": "assignments that ended are rows again",
    "staff_regimenedit": "who changed a draft, out of the trail",
    "django_content_type": "new models",
    "auth_permission": "new models",
}


@dataclass(frozen=True)
class Database:
    file: Path
    postgres: str

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        if self.postgres:
            with psycopg.connect(self.postgres) as connection:
                return list(connection.execute(query).fetchall())  # type: ignore[call-overload]
        with closing(sqlite3.connect(f"file:{self.file}?mode=ro", uri=True)) as connection:
            return list(connection.execute(query).fetchall())


@dataclass(frozen=True)
class Seen:
    counts: dict[str, int]
    # State, by key.
    notices: dict[str, str]
    # Primary keys of voided rows, by table.
    voided: dict[str, set[int]]
    withdrawn: set[int]
    # Voided rows that lack who, when or why, once the columns exist.
    half_voided: tuple[str, ...]
    # Withdrawals named by no ended assignment, and ended assignments that rest on a clearance.
    loose: tuple[str, ...]


def look(database: Database) -> Seen:
    tables = [str(name) for (name,) in database.rows(_TABLES[bool(database.postgres)])]
    ours = [name for name in tables if name.startswith(("staff_", "safety_", "django_", "auth_", "knox_"))]
    voidable = [name for name in ours if "voided_at" in _columns(database, name)]
    return Seen(
        counts={name: int(database.rows(f'SELECT count(*) FROM "{name}"')[0][0]) for name in ours},
        notices=dict(database.rows("SELECT key, state FROM safety_notice")),
        voided={
            name: {row[0] for row in database.rows(f"SELECT id FROM {name} WHERE voided_at IS NOT NULL")}
            for name in voidable
        },
        withdrawn={row[0] for row in database.rows("SELECT id FROM staff_withdrawal")},
        half_voided=tuple(_half_voided(database, voidable)),
        loose=tuple(_loose(database)),
    )


def _columns(database: Database, table: str) -> set[str]:
    if database.postgres:
        query = f"SELECT column_name FROM information_schema.columns WHERE table_name = '{table}'"
        return {row[0] for row in database.rows(query)}
    return {row[1] for row in database.rows(f'PRAGMA table_info("{table}")')}


def _half_voided(database: Database, tables: list[str]) -> Iterator[str]:
    for table in tables:
        if {"voided_by_id", "void_reason"} <= _columns(database, table):
            half = "voided_at IS NOT NULL AND (voided_by_id IS NULL OR void_reason = '')"
            yield from (f"{table} {pk}" for (pk,) in database.rows(f"SELECT id FROM {table} WHERE {half}"))


def _loose(database: Database) -> Iterator[str]:
    columns = _columns(database, "staff_assignment")
    if "withdrawal_id" in columns:
        ended = "withdrawal_id IS NOT NULL AND clearance_id IS NOT NULL"
        for (pk,) in database.rows(f"SELECT id FROM staff_assignment WHERE {ended}"):
            yield f"ended assignment {pk} rests on a clearance"
        wrong = (
            "SELECT a.id FROM staff_assignment a JOIN staff_withdrawal w ON w.id = a.withdrawal_id "
            "WHERE w.person_id <> a.person_id OR w.outing_id <> a.outing_id"
        )
        for (pk,) in database.rows(wrong):
            yield f"assignment {pk} ended by another's withdrawal"


def differences(before: Seen, after: Seen) -> list[str]:
    """What the upgrade lost, added or said otherwise; nothing when it is right."""
    faults = [f"table {name} is gone" for name in before.counts.keys() - after.counts.keys()]
    for name, count in before.counts.items():
        now = after.counts.get(name, count)
        if now < count or (now > count and name not in ADDED):
            faults.append(f"{name}: {count} rows before, {now} after")
    faults += [f"notice {key} is gone" for key in before.notices.keys() - after.notices.keys()]
    faults += [f"notice {key} is new" for key in after.notices.keys() - before.notices.keys()]
    faults += [
        f"notice {key}: {state} before, {after.notices[key]} after"
        for key, state in before.notices.items()
        if key in after.notices and after.notices[key] != state
    ]
    for table, voided in before.voided.items():
        if voided != after.voided.get(table, set()):
            faults.append(f"{table}: other rows are voided than before")
    if before.withdrawn != after.withdrawn:
        faults.append("withdrawals differ")
    faults += [f"voided without who or why: {row}" for row in after.half_voided]
    return [*faults, *after.loose]
