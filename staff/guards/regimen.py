"""The text of the triggers that keep the regimen table, for both engines; staff.guards puts them in place.

A version is born a draft; its steps and facts change only while it is one; it moves as
staff.rules.regimen.regimen_states says; a site approves only what is listed, never by somebody who had a hand in it.
"""

from __future__ import annotations

from staff.rules.regimen.regimen_states import MOVES, SAMPLE_MOVES

REGIMEN_KEPT = "regimen-kept"
REGIMEN_MOVE = "regimen-move"
REGIMEN_APPROVAL = "regimen-approval"

REGIMEN_TABLE = "staff_regimen"
REGIMEN_TABLES = (REGIMEN_TABLE, "staff_regimenstep", "staff_regimenapproval")

# A version may take these while it is a draft; the rest stays from the first day.
_FREE_IN_DRAFT = {
    "code", "version", "name", "purpose", "routes", "for_whom", "source", "source_kind", "changed_by_id",
    "submitted_by_id",
}  # fmt: skip


def _pairs(moves: frozenset[tuple[str, str]]) -> str:
    return " OR ".join(f"(OLD.state = '{old}' AND NEW.state = '{new}')" for old, new in sorted(moves))


_LEGAL = f"({_pairs(MOVES)} OR (OLD.drafted_by_id IS NULL AND ({_pairs(SAMPLE_MOVES)})))"
_STANDING = "SELECT 1 FROM staff_regimenapproval WHERE regimen_id = OLD.id AND withdrawn_at IS NULL"
_WRONG_MOVE = f"NEW.state <> OLD.state AND (NOT {_LEGAL} OR (NEW.state = 'retired' AND EXISTS ({_STANDING})))"
_APPROVABLE = """
    SELECT 1 FROM staff_regimen r WHERE r.id = NEW.regimen_id AND r.state = 'listed'
    AND NEW.approved_by_id <> COALESCE(r.drafted_by_id, 0)
    AND NEW.approved_by_id <> COALESCE(r.changed_by_id, 0)
    AND NEW.approved_by_id <> COALESCE(r.submitted_by_id, 0)
"""


def _changed(columns: list[str], differs: str) -> str:
    def any_of(names: list[str]) -> str:
        return " OR ".join(f'NEW."{name}" {differs} OLD."{name}"' for name in names)

    facts = [name for name in columns if name != "state"]
    pinned = [name for name in facts if name not in _FREE_IN_DRAFT]
    return f"(OLD.state <> 'draft' AND ({any_of(facts)})) OR {any_of(pinned)}"


def sqlite_regimen_triggers(columns: list[str]) -> dict[str, str]:
    """Statements by trigger name; `columns` are those of the table of regimens."""

    def refuse(name: str, event: str, when: str, code: str) -> str:
        return f"CREATE TRIGGER {name} BEFORE {event} WHEN {when} BEGIN SELECT RAISE(ABORT, '{code}'); END"

    not_draft = "EXISTS (SELECT 1 FROM staff_regimen WHERE id = {row}.regimen_id AND state <> 'draft')"
    rows = {
        # REPLACE deletes without firing delete triggers, so an existing row is refused at insert too.
        "staff_regimen_kept_insert": (
            "INSERT ON staff_regimen",
            "NEW.state <> 'draft' OR EXISTS (SELECT 1 FROM staff_regimen WHERE id = NEW.id"
            " OR (code = NEW.code AND version = NEW.version))",
            REGIMEN_KEPT,
        ),
        "staff_regimen_kept_update": ("UPDATE ON staff_regimen", _changed(columns, "IS NOT"), REGIMEN_KEPT),
        "staff_regimen_kept_swap": (
            "UPDATE ON staff_regimen",
            "EXISTS (SELECT 1 FROM staff_regimen WHERE id <> OLD.id AND code = NEW.code"
            " AND version = NEW.version)",
            REGIMEN_KEPT,
        ),
        "staff_regimen_kept_delete": ("DELETE ON staff_regimen", "OLD.state <> 'draft'", REGIMEN_KEPT),
        "staff_regimen_moves": ("UPDATE OF state ON staff_regimen", _WRONG_MOVE, REGIMEN_MOVE),
        "staff_regimenapproval_guard": (
            "INSERT ON staff_regimenapproval",
            f"NOT EXISTS ({_APPROVABLE})",
            REGIMEN_APPROVAL,
        ),
        # The code of the append-only tables: a replaced approval would be an erased one.
        "staff_regimenapproval_kept_swap": (
            "INSERT ON staff_regimenapproval",
            "EXISTS (SELECT 1 FROM staff_regimenapproval WHERE regimen_id = NEW.regimen_id"
            " AND site_id = NEW.site_id AND withdrawn_at IS NULL AND NEW.withdrawn_at IS NULL)",
            "append-only",
        ),
        "staff_regimenapproval_void_stands": (
            "UPDATE ON staff_regimenapproval",
            "OLD.withdrawn_at IS NOT NULL",
            REGIMEN_APPROVAL,
        ),
        "staff_regimenstep_kept_insert": (
            "INSERT ON staff_regimenstep",
            not_draft.format(row="NEW")
            + " OR EXISTS (SELECT 1 FROM staff_regimenstep s JOIN staff_regimen r ON r.id = s.regimen_id"
            " WHERE s.id = NEW.id AND r.state <> 'draft')",
            REGIMEN_KEPT,
        ),
        "staff_regimenstep_kept_update": (
            "UPDATE ON staff_regimenstep",
            f"{not_draft.format(row='NEW')} OR {not_draft.format(row='OLD')}",
            REGIMEN_KEPT,
        ),
        "staff_regimenstep_kept_delete": (
            "DELETE ON staff_regimenstep",
            not_draft.format(row="OLD"),
            REGIMEN_KEPT,
        ),
    }
    return {name: refuse(name, *row) for name, row in rows.items()}


def postgres_regimen_functions() -> list[str]:
    """What the triggers call. Rows they look at are locked first, so that no race slips between."""

    def function(name: str, body: str) -> str:
        return (
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$"
        )

    def refuse(code: str) -> str:
        return f"RAISE EXCEPTION '{code}' USING ERRCODE = 'check_violation';"

    not_draft = "EXISTS (SELECT 1 FROM staff_regimen WHERE id = {row}.regimen_id AND state <> 'draft')"
    step_checks = "".join(
        f"""IF TG_OP <> '{other}' THEN
            PERFORM 1 FROM staff_regimen WHERE id = {row}.regimen_id FOR SHARE;
            IF {not_draft.format(row=row)} THEN {refuse(REGIMEN_KEPT)} END IF;
        END IF;"""
        for row, other in (("NEW", "DELETE"), ("OLD", "INSERT"))
    )
    return [
        function("staff_regimen_kept", refuse(REGIMEN_KEPT)),
        function("staff_regimen_moves", f"IF {_WRONG_MOVE} THEN {refuse(REGIMEN_MOVE)} END IF; RETURN NEW;"),
        function(
            "staff_regimenstep_guard",
            f"{step_checks} IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW;",
        ),
        function(
            "staff_regimenapproval_guard",
            "PERFORM 1 FROM staff_regimen WHERE id = NEW.regimen_id FOR SHARE;"
            f" IF NOT EXISTS ({_APPROVABLE}) THEN {refuse(REGIMEN_APPROVAL)} END IF; RETURN NEW;",
        ),
    ]


def postgres_regimen_triggers(columns: list[str]) -> dict[str, str]:
    """Statements by trigger name; they call `postgres_regimen_functions`."""
    rows = {
        "staff_regimen_kept_insert": (
            "INSERT ON staff_regimen",
            "NEW.state <> 'draft'",
            "staff_regimen_kept",
        ),
        "staff_regimen_kept_update": (
            "UPDATE ON staff_regimen",
            _changed(columns, "IS DISTINCT FROM"),
            "staff_regimen_kept",
        ),
        "staff_regimen_kept_delete": (
            "DELETE ON staff_regimen",
            "OLD.state <> 'draft'",
            "staff_regimen_kept",
        ),
        "staff_regimen_moves": ("UPDATE ON staff_regimen", "", "staff_regimen_moves"),
        "staff_regimenstep_guard": (
            "INSERT OR UPDATE OR DELETE ON staff_regimenstep",
            "",
            "staff_regimenstep_guard",
        ),
        "staff_regimenapproval_guard": (
            "INSERT ON staff_regimenapproval",
            "",
            "staff_regimenapproval_guard",
        ),
        "staff_regimenapproval_void_stands": (
            "UPDATE ON staff_regimenapproval",
            "OLD.withdrawn_at IS NOT NULL",
            "staff_regimen_kept",
        ),
    }
    statements = {
        name: f"CREATE TRIGGER {name} BEFORE {event} FOR EACH ROW {f'WHEN ({when})' if when else ''}"
        f" EXECUTE FUNCTION {function}()"
        for name, (event, when, function) in rows.items()
    }
    for table in ("staff_regimen", "staff_regimenstep"):
        statements[f"{table}_kept_truncate"] = (
            f"CREATE TRIGGER {table}_kept_truncate BEFORE TRUNCATE ON {table}"
            " FOR EACH STATEMENT EXECUTE FUNCTION staff_regimen_kept()"
        )
    return statements
