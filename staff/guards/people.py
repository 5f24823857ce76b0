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

# The mark of somebody immunocompromised, active dates and clinic visits are held by the services alone.
# Nobody clears themself (staff.services.record.own_record): an event on a table, who answers for the row, and what else must
# hold for it to clear. A dose or titre recorded before an account was linked can still be voided by somebody else.
_SOMEBODY_ELSES: tuple[tuple[str, str, str, str], ...] = (
    ("INSERT", "staff_dose", "recorded_by_id", "NEW.evidence <> 'none'"),
    ("INSERT", "staff_titre", "recorded_by_id", ""),
    ("UPDATE", "staff_titre", "voided_by_id", ""),
    ("INSERT", "staff_briefing", "recorded_by_id", ""),
    ("UPDATE", "staff_briefing", "recorded_by_id", ""),
    ("INSERT", "staff_clearanceletter", "recorded_by_id", ""),
    ("INSERT", "staff_certificate", "verified_by_id", ""),
    ("UPDATE", "staff_certificate", "verified_by_id", ""),
    ("UPDATE", "staff_hold", "released_by_id", ""),
)


def _second_person_rules() -> dict[str, tuple[str, str]]:
    """By trigger name: the event, and when it is refused."""
    rules = {
        "staff_doseverification_guard": ("INSERT ON staff_doseverification", f"NOT EXISTS ({_WELL_VERIFIED})")
    }
    for event, table, who, besides in _SOMEBODY_ELSES:
        own = f"EXISTS (SELECT 1 FROM staff_person WHERE id = NEW.person_id AND user_id = NEW.{who})"
        when = f"{besides} AND {own}" if besides else own
        rules[f"{table}_guard_{event.lower()}"] = (f"{event} ON {table}", when)
    return rules


def sqlite_people_triggers() -> dict[str, str]:
    """Statements by trigger name."""
    refused = {
        name: _sqlite(name, event, when, SECOND_PERSON)
        for name, (event, when) in _second_person_rules().items()
    }
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
        *(_function(name, _refusal(when)) for name, (_event, when) in _second_person_rules().items()),
    ]


def _refusal(when: str) -> str:
    return f"IF {when} THEN RAISE EXCEPTION '{SECOND_PERSON}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW;"


def _function(name: str, body: str) -> str:
    return f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {body} END $$"


def postgres_people_triggers() -> dict[str, str]:
    """Statements by trigger name; they call `postgres_people_functions`."""
    rows = {name: (event, "", name) for name, (event, _when) in _second_person_rules().items()}
    for table in _SITE_KEPT_TABLES:
        moved = "WHEN (NEW.site_id IS DISTINCT FROM OLD.site_id)"
        rows[f"{table}_site_kept_update"] = (f"UPDATE ON {table}", moved, "staff_site_kept")
    return {
        name: f"CREATE TRIGGER {name} BEFORE {event} FOR EACH ROW {when} EXECUTE FUNCTION {function}()"
        for name, (event, when, function) in rows.items()
    }
