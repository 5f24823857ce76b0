"""What is kept as it was written: rows that only grow in number, and the columns that are set once.

A row is neither changed nor deleted nor replaced; what was wrong is voided, superseded or withdrawn by the few columns
that stay open.
"""

from __future__ import annotations

APPEND_ONLY = "append-only"

# table, and the columns that may still be set once a row stands.
APPEND_ONLY_TABLES: dict[str, tuple[str, ...]] = {
    "staff_auditentry": (),
    "staff_accountchange": (),
    "staff_withdrawal": (),
    "staff_outingmove": (),
    "staff_outingchange": (),
    "staff_dose": ("voided_at", "voided_by_id", "void_reason"),
    "staff_titre": ("voided_at", "voided_by_id", "void_reason"),
    "staff_clearanceletter": ("voided_at", "voided_by_id", "void_reason"),
    "staff_certificate": ("verified_by_id", "verified_at"),
    "staff_doseverification": (),
    "staff_clearance": ("superseded_on",),
    "staff_ruleschange": ("finished_at", "overtaken_by_id"),
    "staff_regimenmove": (),
    "staff_regimenedit": (),
    "staff_regimenapproval": ("withdrawn_at", "withdrawn_by_id", "withdraw_reason"),
}

# table, and the column that is set once: a voided row stays voided, a document that was checked stays checked.
SET_ONCE = {
    "staff_dose": "voided_at",
    "staff_titre": "voided_at",
    "staff_clearanceletter": "voided_at",
    "staff_certificate": "verified_at",
}

# On SQLite a row may not be replaced by way of another unique key either: what else makes a row the same.
_REPLACEABLE = {
    "staff_dose": " OR (person_id = NEW.person_id AND given_on = NEW.given_on"
    " AND voided_at IS NULL AND NEW.voided_at IS NULL)",
    "staff_titre": " OR (person_id = NEW.person_id AND taken_on = NEW.taken_on"
    " AND voided_at IS NULL AND NEW.voided_at IS NULL)",
    "staff_certificate": " OR key = NEW.key OR (person_id = NEW.person_id AND sha256 = NEW.sha256"
    " AND kind <> 'clearance-letter' AND NEW.kind <> 'clearance-letter')",
    "staff_doseverification": " OR dose_id = NEW.dose_id",
}


def sqlite_kept_triggers(columns: dict[str, list[str]]) -> dict[str, str]:
    """Statements by trigger name; `columns` are those of the append-only tables."""
    statements = {}
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
        WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id{_REPLACEABLE.get(table, "")}) BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}');
        END"""
        statements[f"{table}_kept_delete"] = _sqlite_delete_guard(table)
    for table, column in SET_ONCE.items():
        statements[f"{table}_void_stands"] = f"""
        CREATE TRIGGER {table}_void_stands BEFORE UPDATE ON {table} WHEN OLD.{column} IS NOT NULL BEGIN
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


def postgres_kept_functions() -> list[str]:
    return [
        f"""
        CREATE OR REPLACE FUNCTION staff_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = 'check_violation';
        END $$""",
    ]


def postgres_kept_triggers(columns: dict[str, list[str]]) -> dict[str, str]:
    """Statements by trigger name; they call `postgres_kept_functions`, and the roster's for a clearance."""
    statements = {}
    for table, column in SET_ONCE.items():
        statements[f"{table}_void_stands"] = f"""
        CREATE TRIGGER {table}_void_stands BEFORE UPDATE ON {table}
        FOR EACH ROW WHEN (OLD.{column} IS NOT NULL) EXECUTE FUNCTION staff_append_only()"""
    for table, free in APPEND_ONLY_TABLES.items():
        kept = [column for column in columns[table] if column not in free]
        changed = " OR ".join(f'NEW."{column}" IS DISTINCT FROM OLD."{column}"' for column in kept)
        statements[f"{table}_kept_update"] = f"""
        CREATE TRIGGER {table}_kept_update BEFORE UPDATE ON {table}
        FOR EACH ROW WHEN ({changed}) EXECUTE FUNCTION staff_append_only()"""
        # An unused clearance may go: it is a projection.
        gone = "staff_clearance_in_use" if table == "staff_clearance" else "staff_append_only"
        statements[f"{table}_kept_delete"] = f"""
        CREATE TRIGGER {table}_kept_delete BEFORE DELETE ON {table}
        FOR EACH ROW EXECUTE FUNCTION {gone}()"""
        statements[f"{table}_kept_truncate"] = f"""
        CREATE TRIGGER {table}_kept_truncate BEFORE TRUNCATE ON {table}
        FOR EACH STATEMENT EXECUTE FUNCTION staff_append_only()"""
    return statements
