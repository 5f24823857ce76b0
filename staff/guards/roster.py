"""The roster's triggers, for both engines: nobody uncleared is on an outing, and nobody on two of one date.

An outing that is cancelled or a crew that changes its outing may not take people along, by any door: a
roster row in such a state could no longer be moved to another clearance, and would block the record.

An assignment that ended is history: it binds nobody, and never stands again.
"""

from __future__ import annotations

from staff.guards.kept import APPEND_ONLY

NOT_CLEARED = "not-cleared"
BOOKED_TWICE = "booked-twice"
HAS_PEOPLE = "has-people"
ENDED_ELSEWHERE = "ended-elsewhere"

GUARDED_TABLES = (
    "staff_assignment",
    "staff_outing",
    "staff_crew",
    "staff_person",
    "staff_briefing",
    "staff_hold",
)
# No trigger of their own, but the others read them.
READ_TABLES = ("staff_clearancepending",)

# A clearance older than the site's rules allows nothing (see staff.models.site.rules_change).
_COVERED = """
    c.person_id = {row}.person_id AND c.superseded_on IS NULL
    AND c.starts_on <= o.date AND (c.ends_on IS NULL OR c.ends_on >= o.date)
    AND NOT EXISTS (SELECT 1 FROM staff_clearancepending d WHERE d.person_id = {row}.person_id)
    AND EXISTS (SELECT 1 FROM staff_person p WHERE p.id = {row}.person_id AND p.site_id = o.site_id)
"""


# Whether anybody on the outing NEW may not stay on it as it would be.
_LEFT_UNCOVERED = """
    SELECT 1 FROM staff_assignment a JOIN staff_clearance c ON c.id = a.clearance_id
    WHERE a.outing_id = NEW.id AND a.withdrawal_id IS NULL AND (NEW.cancelled_at IS NOT NULL OR NOT (
        c.superseded_on IS NULL AND c.starts_on <= NEW.date
        AND (c.ends_on IS NULL OR c.ends_on >= NEW.date)
        AND NOT EXISTS (SELECT 1 FROM staff_clearancepending d WHERE d.person_id = a.person_id)))
"""
# Nobody is in two places on one date. A row that only rests on another clearance is let be, so that rosters of
# before this rule block nobody's record.
_TWICE_BY_PERSON = """
    SELECT 1 FROM staff_assignment a JOIN staff_outing b ON b.id = a.outing_id
    JOIN staff_outing o ON o.id = NEW.outing_id AND o.date = b.date
    WHERE a.person_id = NEW.person_id AND a.withdrawal_id IS NULL AND a.id {differs} NEW.id
"""
_TWICE_BY_OUTING = """
    SELECT 1 FROM staff_assignment a
    JOIN staff_assignment e ON e.person_id = a.person_id AND e.outing_id <> NEW.id AND e.withdrawal_id IS NULL
    JOIN staff_outing b ON b.id = e.outing_id AND b.date = NEW.date
    WHERE a.outing_id = NEW.id AND a.withdrawal_id IS NULL
"""
# What ended it took this person off this outing, from a crew of it.
_ENDED_HERE = """
    SELECT 1 FROM staff_withdrawal d JOIN staff_crew w ON w.id = NEW.crew_id AND w.outing_id = d.outing_id
    WHERE d.id = NEW.withdrawal_id AND d.outing_id = NEW.outing_id AND d.person_id = NEW.person_id
"""
_PERSON_OR_OUTING_CHANGED = "NEW.person_id <> OLD.person_id OR NEW.outing_id <> OLD.outing_id"
# Who puts a person on two outings at once waits here: taken after the outing, by the order of people.
_PERSON_LOCK = "pg_advisory_xact_lock(315, ({row}.person_id % 2147483647)::int)"
_CREW_ELSEWHERE = "SELECT 1 FROM staff_assignment WHERE crew_id = NEW.id AND outing_id <> NEW.outing_id"


def sqlite_roster_triggers() -> dict[str, str]:
    """Statements by trigger name."""
    allowed = f"""
        SELECT 1 FROM staff_clearance c JOIN staff_outing o ON o.id = NEW.outing_id
        JOIN staff_crew w ON w.id = NEW.crew_id AND w.outing_id = o.id
        WHERE c.id = NEW.clearance_id AND o.cancelled_at IS NULL AND {_COVERED.format(row="NEW")}
    """
    statements = {
        f"staff_assignment_guard_{event}": f"""
        CREATE TRIGGER staff_assignment_guard_{event} BEFORE {event.upper()} ON staff_assignment
        WHEN NEW.withdrawal_id IS NULL BEGIN
            SELECT RAISE(ABORT, '{NOT_CLEARED}') WHERE NOT EXISTS ({allowed});
        END"""
        for event in ("insert", "update")
    }
    for event, when in (("insert", ""), ("update", f"AND ({_PERSON_OR_OUTING_CHANGED})")):
        statements[f"staff_assignment_once_{event}"] = f"""
        CREATE TRIGGER staff_assignment_once_{event} BEFORE {event.upper()} ON staff_assignment
        WHEN NEW.withdrawal_id IS NULL {when} BEGIN
            SELECT RAISE(ABORT, '{BOOKED_TWICE}') WHERE EXISTS ({_TWICE_BY_PERSON.format(differs="IS NOT")});
        END"""
    statements |= _sqlite_ended()
    # INSERT OR REPLACE and UPDATE OR REPLACE swap a row without a delete trigger: `id` is watched too.
    changed = " OR ".join(f"NEW.{column} IS NOT OLD.{column}" for column in ("id", "date", "cancelled_at"))
    for event, when in (
        ("update", f"BEFORE UPDATE ON staff_outing WHEN {changed}"),
        ("replace", "BEFORE INSERT ON staff_outing"),
    ):
        statements[f"staff_outing_guard_{event}"] = f"""
        CREATE TRIGGER staff_outing_guard_{event} {when} BEGIN
            SELECT RAISE(ABORT, '{NOT_CLEARED}') WHERE EXISTS ({_LEFT_UNCOVERED});
        END"""
    for event, when in (
        ("update", "BEFORE UPDATE ON staff_outing WHEN NEW.id IS NOT OLD.id OR NEW.date IS NOT OLD.date"),
        ("replace", "BEFORE INSERT ON staff_outing"),
    ):
        statements[f"staff_outing_once_{event}"] = f"""
        CREATE TRIGGER staff_outing_once_{event} {when} BEGIN
            SELECT RAISE(ABORT, '{BOOKED_TWICE}') WHERE EXISTS ({_TWICE_BY_OUTING});
        END"""
    for event in ("update", "insert"):
        statements[f"staff_crew_guard_{event}"] = f"""
        CREATE TRIGGER staff_crew_guard_{event} BEFORE {event.upper()} ON staff_crew BEGIN
            SELECT RAISE(ABORT, '{HAS_PEOPLE}') WHERE EXISTS ({_CREW_ELSEWHERE});
        END"""
    statements["staff_clearance_in_use"] = f"""
        CREATE TRIGGER staff_clearance_in_use BEFORE UPDATE OF superseded_on ON staff_clearance BEGIN
            SELECT RAISE(ABORT, '{NOT_CLEARED}') WHERE OLD.superseded_on IS NOT NULL OR EXISTS (
                SELECT 1 FROM staff_assignment a JOIN staff_outing o ON o.id = a.outing_id
                WHERE a.clearance_id = OLD.id AND o.date >= NEW.superseded_on);
        END"""
    return statements


def _sqlite_ended() -> dict[str, str]:
    """An ended assignment neither changes nor goes, nor is it replaced by way of a unique key."""
    statements = {
        "staff_assignment_ended_delete": f"""
        CREATE TRIGGER staff_assignment_ended_delete BEFORE DELETE ON staff_assignment
        WHEN OLD.withdrawal_id IS NOT NULL BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}');
        END"""
    }
    for event, besides in (("insert", ""), ("update", "OLD.withdrawal_id IS NOT NULL OR")):
        statements[f"staff_assignment_ended_{event}"] = f"""
        CREATE TRIGGER staff_assignment_ended_{event} BEFORE {event.upper()} ON staff_assignment BEGIN
            SELECT RAISE(ABORT, '{APPEND_ONLY}') WHERE {besides} EXISTS (
                SELECT 1 FROM staff_assignment WHERE withdrawal_id IS NOT NULL
                AND (id = NEW.id OR withdrawal_id = NEW.withdrawal_id));
            SELECT RAISE(ABORT, '{ENDED_ELSEWHERE}')
            WHERE NEW.withdrawal_id IS NOT NULL AND NOT EXISTS ({_ENDED_HERE});
        END"""
    return statements


def postgres_roster_functions() -> list[str]:
    """What the triggers call. Each statement of a function sees what has been committed while it waited."""
    return [
        f"""
        CREATE OR REPLACE FUNCTION staff_assignment_guard() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF TG_OP = 'UPDATE' AND OLD.withdrawal_id IS NOT NULL THEN
                RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = 'check_violation'; END IF;
            IF NEW.withdrawal_id IS NOT NULL THEN
                IF NOT EXISTS ({_ENDED_HERE}) THEN
                    RAISE EXCEPTION '{ENDED_ELSEWHERE}' USING ERRCODE = 'check_violation'; END IF;
                RETURN NEW;
            END IF;
            PERFORM 1 FROM staff_outing WHERE id = NEW.outing_id FOR SHARE;
            PERFORM 1 FROM staff_clearance WHERE id = NEW.clearance_id FOR SHARE;
            IF NOT EXISTS (
                SELECT 1 FROM staff_clearance c JOIN staff_outing o ON o.id = NEW.outing_id
                JOIN staff_crew w ON w.id = NEW.crew_id AND w.outing_id = o.id
                WHERE c.id = NEW.clearance_id AND o.cancelled_at IS NULL AND {_COVERED.format(row="NEW")}
            ) THEN RAISE EXCEPTION '{NOT_CLEARED}' USING ERRCODE = 'check_violation'; END IF;
            IF TG_OP = 'UPDATE' AND NOT ({_PERSON_OR_OUTING_CHANGED}) THEN RETURN NEW; END IF;
            PERFORM {_PERSON_LOCK.format(row="NEW")};
            IF EXISTS ({_TWICE_BY_PERSON.format(differs="IS DISTINCT FROM")}) THEN
                RAISE EXCEPTION '{BOOKED_TWICE}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_assignment_ended() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF OLD.withdrawal_id IS NOT NULL THEN
                RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = 'check_violation'; END IF;
            RETURN OLD;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_outing_guard() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF TG_OP = 'UPDATE' AND NEW.id = OLD.id AND NEW.date = OLD.date
                AND NEW.cancelled_at IS NOT DISTINCT FROM OLD.cancelled_at THEN RETURN NEW; END IF;
            PERFORM 1 FROM staff_clearance WHERE id IN (
                SELECT clearance_id FROM staff_assignment
                WHERE outing_id = NEW.id AND withdrawal_id IS NULL) ORDER BY id FOR SHARE;
            IF EXISTS ({_LEFT_UNCOVERED}) THEN
                RAISE EXCEPTION '{NOT_CLEARED}' USING ERRCODE = 'check_violation'; END IF;
            IF TG_OP = 'UPDATE' AND NEW.id = OLD.id AND NEW.date = OLD.date THEN RETURN NEW; END IF;
            PERFORM {_PERSON_LOCK.format(row="p")} FROM (
                SELECT person_id FROM staff_assignment
                WHERE outing_id = NEW.id AND withdrawal_id IS NULL ORDER BY person_id) p;
            IF EXISTS ({_TWICE_BY_OUTING}) THEN
                RAISE EXCEPTION '{BOOKED_TWICE}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_crew_guard() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF EXISTS ({_CREW_ELSEWHERE}) THEN
                RAISE EXCEPTION '{HAS_PEOPLE}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
        f"""
        CREATE OR REPLACE FUNCTION staff_clearance_in_use() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN
            IF TG_OP = 'DELETE' THEN
                IF EXISTS (SELECT 1 FROM staff_assignment WHERE clearance_id = OLD.id) THEN
                    RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = 'check_violation'; END IF;
                RETURN OLD;
            END IF;
            IF OLD.superseded_on IS NOT NULL OR EXISTS (
                SELECT 1 FROM staff_assignment a JOIN staff_outing o ON o.id = a.outing_id
                WHERE a.clearance_id = OLD.id AND o.date >= NEW.superseded_on
            ) THEN RAISE EXCEPTION '{NOT_CLEARED}' USING ERRCODE = 'check_violation'; END IF;
            RETURN NEW;
        END $$""",
    ]


def postgres_roster_triggers() -> dict[str, str]:
    """Statements by trigger name; they call `postgres_roster_functions`."""
    return {
        "staff_assignment_guard": """
        CREATE TRIGGER staff_assignment_guard BEFORE INSERT OR UPDATE ON staff_assignment
        FOR EACH ROW EXECUTE FUNCTION staff_assignment_guard()""",
        "staff_assignment_ended_delete": """
        CREATE TRIGGER staff_assignment_ended_delete BEFORE DELETE ON staff_assignment
        FOR EACH ROW EXECUTE FUNCTION staff_assignment_ended()""",
        "staff_assignment_ended_truncate": """
        CREATE TRIGGER staff_assignment_ended_truncate BEFORE TRUNCATE ON staff_assignment
        FOR EACH STATEMENT EXECUTE FUNCTION staff_append_only()""",
        "staff_outing_guard": """
        CREATE TRIGGER staff_outing_guard BEFORE INSERT OR UPDATE ON staff_outing
        FOR EACH ROW EXECUTE FUNCTION staff_outing_guard()""",
        "staff_crew_guard": """
        CREATE TRIGGER staff_crew_guard BEFORE INSERT OR UPDATE ON staff_crew
        FOR EACH ROW EXECUTE FUNCTION staff_crew_guard()""",
        "staff_clearance_in_use": """
        CREATE TRIGGER staff_clearance_in_use BEFORE UPDATE OF superseded_on ON staff_clearance
        FOR EACH ROW EXECUTE FUNCTION staff_clearance_in_use()""",
    }
