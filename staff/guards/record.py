"""Triggers that mark a person whose record changes, by any door, until the clearance is computed again.

A service takes its own mark away where it refreshes the clearance, in the same transaction. What comes past the
services leaves the mark: the roster's guards refuse the person, and the next tick recomputes. On PostgreSQL the
mark locks the clearances first, which the guards take FOR SHARE: a roster row of the same moment either commits
before the change or finds the mark.

Raw changes of a site's rules or approvals mark nobody: `verify_records` names what differs.
"""

from __future__ import annotations

# table, how a row names its person, the columns whose change matters (none: all), and the events.
# A document proves nothing before it is checked, and a new person has no record: their inserts mark nobody.
_ROWS: tuple[tuple[str, str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("staff_dose", "{row}.person_id", (), ("insert", "update", "delete")),
    ("staff_titre", "{row}.person_id", (), ("insert", "update", "delete")),
    ("staff_briefing", "{row}.person_id", (), ("insert", "update", "delete")),
    ("staff_hold", "{row}.person_id", (), ("insert", "update", "delete")),
    ("staff_clearanceletter", "{row}.person_id", (), ("insert", "update", "delete")),
    ("staff_certificate", "{row}.person_id", ("person_id", "verified_at", "verified_by_id"), ("update",)),
    (
        "staff_doseverification",
        "(SELECT person_id FROM staff_dose WHERE id = {row}.dose_id)",
        (),
        ("insert", "update", "delete"),
    ),
    (
        "staff_person",
        "{row}.id",
        ("site_id", "active_from", "active_until", "immunocompromised"),
        ("update",),
    ),
)
MARKING_TABLES = tuple(table for table, _person, _columns, _events in _ROWS)
MARKS = "_marks_"

_SIDES = {"insert": ("NEW",), "update": ("OLD", "NEW"), "delete": ("OLD",)}


def sqlite_record_triggers() -> dict[str, str]:
    """Statements by trigger name."""
    marks = {
        f"{table}{MARKS}{event}": f"""
        CREATE TRIGGER {table}{MARKS}{event} AFTER {event.upper()} ON {table}
        {_when(columns, "IS NOT")} BEGIN
        {" ".join(_sqlite_mark(person.format(row=side)) for side in _SIDES[event])} END"""
        for table, person, columns, events in _ROWS
        for event in events
    }
    # REPLACE deletes without firing delete triggers: whose row it was is looked up before it goes.
    for table, person, _columns, _events in _ROWS:
        whose = f"(SELECT {person.format(row='was')} FROM {table} was WHERE was.id = NEW.id)"
        marks[f"{table}{MARKS}replace"] = f"""
        CREATE TRIGGER {table}{MARKS}replace BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id) BEGIN {_sqlite_mark(whose)} END"""
    return marks


def _sqlite_mark(who: str) -> str:
    # Not INSERT OR IGNORE: the conflict clause of the statement outside would stand in its place.
    return f"""INSERT INTO staff_clearancepending (person_id)
        SELECT p.id FROM staff_person p WHERE p.id = {who}
        AND NOT EXISTS (SELECT 1 FROM staff_clearancepending d WHERE d.person_id = p.id);"""


def _when(columns: tuple[str, ...], differs: str) -> str:
    if not columns:
        return ""
    return f"WHEN ({' OR '.join(f'NEW.{column} {differs} OLD.{column}' for column in columns)})"


def postgres_record_functions() -> list[str]:
    """What the triggers call."""
    return [
        """
        CREATE OR REPLACE FUNCTION staff_clearance_mark(who bigint) RETURNS void LANGUAGE plpgsql AS $$
        BEGIN
            PERFORM 1 FROM staff_clearance WHERE person_id = who AND superseded_on IS NULL
                ORDER BY id FOR NO KEY UPDATE;
            INSERT INTO staff_clearancepending (person_id) SELECT id FROM staff_person WHERE id = who
                ON CONFLICT (person_id) DO NOTHING;
        END $$""",
        *(_postgres_function(table, person) for table, person, _columns, _events in _ROWS),
    ]


def _postgres_function(table: str, person: str) -> str:
    old, new = (f"PERFORM staff_clearance_mark({person.format(row=side)});" for side in ("OLD", "NEW"))
    return f"""
        CREATE OR REPLACE FUNCTION {table}_marks() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF TG_OP <> 'INSERT' THEN {old} END IF;
            IF TG_OP <> 'DELETE' THEN {new} END IF;
            RETURN NULL;
        END $$"""


def postgres_record_triggers() -> dict[str, str]:
    """Statements by trigger name; they call `postgres_record_functions`."""
    return {
        f"{table}{MARKS}{event}": f"""
        CREATE TRIGGER {table}{MARKS}{event} AFTER {event.upper()} ON {table}
        FOR EACH ROW {_when(columns, "IS DISTINCT FROM")} EXECUTE FUNCTION {table}_marks()"""
        for table, person, columns, events in _ROWS
        for event in events
    }
