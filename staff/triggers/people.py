"""Triggers about who a row is about: a site's people and outings stay its own, and a check takes two people."""

from __future__ import annotations

SITE_KEPT = "site-kept"
SECOND_PERSON = "second-person"

# A clearance follows from the rules and approvals of the person's site: nobody and no outing changes site.
_SITE_KEPT_TABLES = ("staff_person", "staff_outing")

# Neither who recorded the dose nor the person, and only who checked the document of that person.
_WELL_VERIFIED = """
    SELECT 1 FROM staff_dose d JOIN staff_certificate f ON f.id = NEW.certificate_id
    JOIN staff_person p ON p.id = d.person_id AND p.id = f.person_id
    WHERE d.id = NEW.dose_id AND f.verified_by_id = NEW.verified_by_id
    AND d.recorded_by_id <> NEW.verified_by_id AND COALESCE(p.user_id, 0) <> NEW.verified_by_id
"""
_OWN_DOCUMENT = "SELECT 1 FROM staff_person WHERE id = NEW.person_id AND user_id = NEW.verified_by_id"


def sqlite_people_triggers() -> dict[str, str]:
    """Statements by trigger name."""
    rows = {
        "staff_doseverification_guard": ("INSERT ON staff_doseverification", f"NOT EXISTS ({_WELL_VERIFIED})")
    }
    for event in ("update", "insert"):
        rows[f"staff_certificate_guard_{event}"] = (
            f"{event.upper()} ON staff_certificate",
            f"EXISTS ({_OWN_DOCUMENT})",
        )
    refused = {name: _sqlite(name, *row, SECOND_PERSON) for name, row in rows.items()}
    for table in _SITE_KEPT_TABLES:
        # REPLACE deletes without firing delete triggers, so an existing row is looked at when one is inserted too.
        elsewhere = f"EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id AND site_id <> NEW.site_id)"
        for name, event, when in (
            (f"{table}_site_kept_update", "UPDATE", "NEW.site_id IS NOT OLD.site_id"),
            (f"{table}_site_kept_replace", "INSERT", elsewhere),
        ):
            refused[name] = _sqlite(name, f"{event} ON {table}", when, SITE_KEPT)
    return refused


def _sqlite(name: str, event: str, when: str, code: str) -> str:
    return f"CREATE TRIGGER {name} BEFORE {event} WHEN {when} BEGIN SELECT RAISE(ABORT, '{code}'); END"


def postgres_people_functions() -> list[str]:
    """What the triggers call."""
    return [
        _function("staff_site_kept", f"RAISE EXCEPTION '{SITE_KEPT}' USING ERRCODE = 'check_violation';"),
        _function("staff_doseverification_guard", _refusal(f"NOT EXISTS ({_WELL_VERIFIED})")),
        _function("staff_certificate_guard", _refusal(f"EXISTS ({_OWN_DOCUMENT})")),
    ]


def _refusal(when: str) -> str:
    return f"IF {when} THEN RAISE EXCEPTION '{SECOND_PERSON}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW;"


def _function(name: str, body: str) -> str:
    return f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$"


def postgres_people_triggers() -> dict[str, str]:
    """Statements by trigger name; they call `postgres_people_functions`."""
    rows = {
        "staff_doseverification_guard": (
            "INSERT ON staff_doseverification",
            "",
            "staff_doseverification_guard",
        ),
        "staff_certificate_guard": ("INSERT OR UPDATE ON staff_certificate", "", "staff_certificate_guard"),
    }
    for table in _SITE_KEPT_TABLES:
        moved = "WHEN (NEW.site_id IS DISTINCT FROM OLD.site_id)"
        rows[f"{table}_site_kept_update"] = (f"UPDATE ON {table}", moved, "staff_site_kept")
    return {
        name: f"CREATE TRIGGER {name} BEFORE {event} FOR EACH ROW {when} EXECUTE FUNCTION {function}()"
        for name, (event, when, function) in rows.items()
    }
