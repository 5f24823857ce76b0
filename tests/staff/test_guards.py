"""The database's own guards: nobody uncleared by any door, and a record that is only added to."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import CharField, Model

from staff import guards
from staff.guards import GuardsMissing
from staff.models import Assignment, AuditEntry, Clearance, Crew, Dose, Outing, Person, Withdrawal
from staff.services.certificates import certificate_add, certificate_verify
from staff.services.letters import letter_add
from staff.services.records import briefing_record, dose_record, titre_record
from staff.services.roster import outing_cancel, outing_move, roster_assign, roster_withdraw
from staff.services.site_rules import site_rules_change
from staff.triggers import APPEND_ONLY, HAS_PEOPLE, NOT_CLEARED
from tests.documents import picture
from tests.factories import Team, give_doses, make_outing, make_person

pytestmark = pytest.mark.django_db
CHECKOUT = Path(__file__).resolve().parent.parent.parent
SQLITE = connection.vendor == "sqlite"
only_sqlite = pytest.mark.skipif(not SQLITE, reason="SQLite's own syntax; PostgreSQL has no such statement")


@dataclass
class Roster:
    """`on` is cleared and on the outing of crew `crew`; `off` has one dose too few."""

    team: Team
    on: Assignment
    off: Person
    outing: Outing
    crew: Crew
    now: datetime

    def row(self, **changes: object) -> Assignment:
        """An assignment of the uncleared person that rests on the other's clearance."""
        values: dict[str, object] = {
            "outing": self.outing,
            "crew": self.crew,
            "person": self.off,
            "role": "catcher",
            "clearance": self.on.clearance,
            "assigned_by": self.team.officer,
            "assigned_at": self.now,
        }
        return Assignment(**(values | changes))


@pytest.fixture
def roster(team: Team, now: datetime) -> Roster:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    off = make_person(team.site, team.officer, now, number="off", name="Too Few")
    give_doses(off, team.officer, now, 30, 23)
    outing, crew = make_outing(team.site, team.officer, now)
    on = roster_assign(
        actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
    )
    return Roster(team, on, off, outing, crew, now)


def sql(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def refused(word: str, act: Callable[[], object]) -> None:
    """`act` must be refused by the database with `word`, and leave no trace."""
    before = [
        list(model.objects.order_by("pk").values()) for model in (Assignment, Outing, Crew, Dose, Clearance)
    ]
    with pytest.raises((IntegrityError, DatabaseError), match=word), transaction.atomic():
        act()
    after = [
        list(model.objects.order_by("pk").values()) for model in (Assignment, Outing, Crew, Dose, Clearance)
    ]
    assert after == before


def load(path: Path, row: Assignment) -> None:
    fields = {
        "outing": row.outing_id,
        "crew": row.crew_id,
        "person": row.person_id,
        "role": row.role,
        "clearance": row.clearance_id,
        "assigned_by": row.assigned_by_id,
        "assigned_at": row.assigned_at.isoformat(),
    }
    path.write_text(json.dumps([{"model": "staff.assignment", "pk": 900, "fields": fields}]))
    call_command("loaddata", str(path), verbosity=0)


INSERT = (
    "INTO staff_assignment (outing_id, crew_id, person_id, role, clearance_id, assigned_by_id, assigned_at)"
    " VALUES (%s, %s, %s, 'catcher', %s, %s, %s)"
)


def values_of(row: Assignment) -> tuple[object, ...]:
    return (
        row.outing_id,
        row.crew_id,
        row.person_id,
        row.clearance_id,
        row.assigned_by_id,
        row.assigned_at,
    )


# Doors to the roster

DOORS: dict[str, Callable[[Roster, Path], object]] = {
    "save": lambda r, _: r.row().save(),
    "bulk_create": lambda r, _: Assignment.objects.bulk_create([r.row()]),
    "upsert": lambda r, _: Assignment.objects.bulk_create(
        [r.row(pk=r.on.pk)],
        update_conflicts=True,
        update_fields=["person", "clearance"],
        unique_fields=["id"],
    ),
    "queryset.update": lambda r, _: Assignment.objects.update(person=r.off),
    "bulk_update": lambda r, _: Assignment.objects.bulk_update([_swapped(r)], ["person"]),
    "loaddata": lambda r, path: load(path / "roster.json", r.row()),
    "insert": lambda r, _: sql(f"INSERT {INSERT}", *values_of(r.row())),
    "insert-select": lambda r, _: sql(
        "INSERT INTO staff_assignment (outing_id, crew_id, person_id, role, clearance_id, assigned_by_id,"
        " assigned_at) SELECT outing_id, crew_id, %s, role, clearance_id, assigned_by_id, assigned_at"
        " FROM staff_assignment",
        r.off.pk,
    ),
    "update": lambda r, _: sql("UPDATE staff_assignment SET person_id = %s", r.off.pk),
}


def _swapped(roster: Roster) -> Assignment:
    roster.on.person = roster.off
    return roster.on


@pytest.mark.parametrize("door", DOORS)
def test_an_uncleared_person_gets_on_no_roster_by(door: str, roster: Roster, tmp_path: Path) -> None:
    refused(NOT_CLEARED, lambda: DOORS[door](roster, tmp_path))


@only_sqlite
@pytest.mark.parametrize("word", ["REPLACE", "IGNORE", "FAIL", "ROLLBACK"])
def test_no_conflict_clause_of_sqlite_opens_a_door(word: str, roster: Roster) -> None:
    if word == "ROLLBACK":
        pytest.skip("would roll back the test's own transaction; the trigger's ABORT is the same for all")
    refused(NOT_CLEARED, lambda: sql(f"INSERT OR {word} {INSERT}", *values_of(roster.row())))
    refused(NOT_CLEARED, lambda: sql(f"UPDATE OR {word} staff_assignment SET person_id = %s", roster.off.pk))


def test_a_superseded_clearance_carries_nobody(roster: Roster) -> None:
    own = Clearance.objects.create(
        person=roster.off, starts_on=date(2026, 1, 1), computed_at=roster.now, superseded_on=date(2026, 2, 1)
    )
    refused(NOT_CLEARED, lambda: roster.row(clearance=own).save())


@pytest.mark.parametrize(("first", "last"), [(4, None), (-9, 2), (4, 9)])
def test_a_clearance_of_other_days_carries_nobody(roster: Roster, first: int, last: int | None) -> None:
    today = roster.team.site.local_date(roster.now)
    own = Clearance.objects.create(
        person=roster.off,
        starts_on=today + timedelta(days=first),
        ends_on=None if last is None else today + timedelta(days=last),
        computed_at=roster.now,
    )
    refused(NOT_CLEARED, lambda: roster.row(clearance=own).save())


@pytest.mark.parametrize(("first", "last"), [(3, 3), (-9, 3), (3, None)])
def test_the_first_and_the_last_day_of_a_clearance_count(
    roster: Roster, first: int, last: int | None
) -> None:
    today = roster.team.site.local_date(roster.now)
    own = Clearance.objects.create(
        person=roster.off,
        starts_on=today + timedelta(days=first),
        ends_on=None if last is None else today + timedelta(days=last),
        computed_at=roster.now,
    )
    roster.row(clearance=own).save()
    assert Assignment.objects.count() == 2


def test_a_crew_of_another_outing_or_a_cancelled_outing_takes_nobody(roster: Roster) -> None:
    other, other_crew = make_outing(roster.team.site, roster.team.officer, roster.now)
    refused(NOT_CLEARED, lambda: Assignment.objects.update(crew=other_crew))
    outing_cancel(actor=roster.team.officer, outing=other, reason="storm", now=roster.now)
    refused(NOT_CLEARED, lambda: Assignment.objects.update(crew=other_crew, outing=other))


# What a roster rests on

MOVES: dict[str, Callable[[Roster], object]] = {
    "update": lambda r: sql("UPDATE staff_outing SET date = %s WHERE id = %s", date(2026, 1, 5), r.outing.pk),
    "queryset.update": lambda _: Outing.objects.update(date=date(2026, 1, 5)),
    "cancel": lambda r: sql("UPDATE staff_outing SET cancelled_at = %s, cancel_reason = 'x'", r.now),
    "supersede": lambda r: Clearance.objects.filter(pk=r.on.clearance_id).update(superseded_on=r.outing.date),
}


@pytest.mark.parametrize("move", MOVES)
def test_the_ground_is_not_pulled_from_under_a_roster_by(move: str, roster: Roster) -> None:
    refused(NOT_CLEARED, lambda: MOVES[move](roster))


@only_sqlite
def test_an_outing_is_not_swapped_for_one_of_another_day(roster: Roster) -> None:
    early, crew = make_outing(roster.team.site, roster.team.officer, roster.now, days_ahead=0)
    Outing.objects.filter(pk=early.pk).update(date=date(2026, 1, 5))
    columns = "id, site_id, date, area, method, dogs_expected, created_by_id, created_at, cancel_reason"
    refused(
        NOT_CLEARED,
        lambda: sql(
            f"INSERT OR REPLACE INTO staff_outing ({columns}) SELECT %s, site_id, '2026-01-05', area, method,"
            " dogs_expected, created_by_id, created_at, '' FROM staff_outing WHERE id = %s",
            roster.outing.pk,
            early.pk,
        ),
    )
    crew.delete()
    refused(
        NOT_CLEARED,
        lambda: sql("UPDATE OR REPLACE staff_outing SET id = %s WHERE id = %s", roster.outing.pk, early.pk),
    )


def test_a_crew_takes_nobody_along_to_another_outing(roster: Roster) -> None:
    other, _ = make_outing(roster.team.site, roster.team.officer, roster.now, days_ahead=9)
    refused(
        HAS_PEOPLE,
        lambda: sql(
            "UPDATE staff_crew SET outing_id = %s, name = 'x' WHERE id = %s", other.pk, roster.crew.pk
        ),
    )


def test_a_clearance_in_use_is_neither_changed_nor_deleted(roster: Roster) -> None:
    for change in ("starts_on = '2020-01-01'", f"person_id = {roster.off.pk}", "ends_on = '2030-01-01'"):
        refused(APPEND_ONLY, lambda change=change: sql(f"UPDATE staff_clearance SET {change}"))
    refused(APPEND_ONLY, lambda: sql("DELETE FROM staff_clearance WHERE id = %s", roster.on.clearance_id))


def test_a_clearance_once_superseded_stays_so(roster: Roster) -> None:
    unused = Clearance.objects.create(person=roster.off, starts_on=date(2026, 1, 1), computed_at=roster.now)
    Clearance.objects.filter(pk=unused.pk).update(superseded_on=date(2026, 3, 1))
    refused(NOT_CLEARED, lambda: Clearance.objects.filter(pk=unused.pk).update(superseded_on=None))


def test_what_the_services_do_passes_the_guards(roster: Roster) -> None:
    officer, now = roster.team.officer, roster.now
    day = roster.outing.date
    assert outing_move(actor=officer, outing=roster.outing, date=day + timedelta(days=1), now=now) == []
    Outing.objects.filter(pk=roster.outing.pk).update(dogs_expected=80)
    roster_withdraw(actor=officer, assignment=Assignment.objects.get(), reason="ill", now=now)
    outing_cancel(actor=officer, outing=roster.outing, reason="storm", now=now)
    assert not Assignment.objects.exists() and Withdrawal.objects.count() == 1


# The record


def documented(roster: Roster) -> None:
    """A titre, a letter, and a dose whose certificate a second person has checked."""
    team, now, person = roster.team, roster.now, roster.off
    today = team.site.local_date(now)
    titre_record(actor=team.officer, person=person, taken_on=today, iu_per_ml=Decimal("0.4"), now=now)
    dose = dose_record(actor=team.officer, person=person, given_on=today, evidence="none", now=now)
    row = certificate_add(
        actor=team.officer, person=person, kind="certificate", content=picture("one"), now=now
    )
    certificate_verify(actor=team.liaison, certificate=row, doses=[dose], now=now)
    letter_add(
        actor=team.officer,
        person=person,
        clinician="Test Clinician",
        signed_on=today,
        valid_until=today,
        content=picture("two"),
        now=now,
    )


ENTRIES = {
    "titre dated ahead": "UPDATE staff_titre SET taken_on = '2030-01-01'",
    "briefing dated ahead": "UPDATE staff_briefing SET held_on = '2030-01-01'",
    "document checked by who sent it": "UPDATE staff_certificate SET verified_at = uploaded_at,"
    " verified_by_id = uploaded_by_id WHERE kind = 'clearance-letter'",
}


@pytest.mark.parametrize("what", ENTRIES)
def test_nothing_is_dated_after_its_entry_and_nobody_checks_their_own_document(
    what: str, roster: Roster
) -> None:
    documented(roster)
    today = roster.team.site.local_date(roster.now)
    briefing_record(actor=roster.team.officer, person=roster.off, held_on=today, now=roster.now)
    with pytest.raises((IntegrityError, DatabaseError)), transaction.atomic():
        sql(ENTRIES[what])


KEPT: dict[str, str] = {
    "dose moved to another day": "UPDATE staff_dose SET given_on = '2026-01-01'",
    "dose given to somebody else": "UPDATE staff_dose SET person_id = person_id + 1",
    "dose called seen": "UPDATE staff_dose SET evidence = 'none'",
    "dose deleted": "DELETE FROM staff_dose",
    "titre raised": "UPDATE staff_titre SET iu_per_ml = 9",
    "titre deleted": "DELETE FROM staff_titre",
    "letter prolonged": "UPDATE staff_clearanceletter SET valid_until = '2030-01-01'",
    "letter deleted": "DELETE FROM staff_clearanceletter",
    "document given to somebody else": "UPDATE staff_certificate SET person_id = person_id + 1",
    "document deleted": "DELETE FROM staff_certificate WHERE kind = 'certificate'",
    "check taken back": "UPDATE staff_certificate SET verified_at = NULL, verified_by_id = NULL",
    "verification moved": "UPDATE staff_doseverification SET dose_id = dose_id + 1",
    "verification deleted": "DELETE FROM staff_doseverification",
    "audit row changed": "UPDATE staff_auditentry SET action = 'nothing.done'",
    "audit detail changed": "UPDATE staff_auditentry SET detail = '{}'",
    "audit rows deleted": "DELETE FROM staff_auditentry",
    "withdrawal changed": "UPDATE staff_withdrawal SET reason = 'other'",
    "withdrawals deleted": "DELETE FROM staff_withdrawal",
}


@pytest.mark.parametrize("what", KEPT)
def test_the_record_stays_as_it_was_written(what: str, roster: Roster) -> None:
    roster_withdraw(actor=roster.team.officer, assignment=roster.on, reason="ill", now=roster.now)
    documented(roster)
    audit = list(AuditEntry.objects.order_by("pk").values())
    refused(APPEND_ONLY, lambda: sql(KEPT[what]))
    assert list(AuditEntry.objects.order_by("pk").values()) == audit and Withdrawal.objects.count() == 1


def test_a_voided_dose_is_neither_revived_nor_given_another_reason(roster: Roster) -> None:
    dose = Dose.objects.filter(person=roster.off).latest("given_on")
    by = roster.team.officer
    Dose.objects.filter(pk=dose.pk).update(voided_at=roster.now, voided_by=by, void_reason="slip")
    refused(
        APPEND_ONLY,
        lambda: Dose.objects.filter(pk=dose.pk).update(voided_at=None, voided_by=None, void_reason=""),
    )
    refused(APPEND_ONLY, lambda: Dose.objects.filter(pk=dose.pk).update(void_reason="another"))


@only_sqlite
@pytest.mark.parametrize("table", sorted(guards.APPEND_ONLY_TABLES))
def test_replace_rewrites_no_row_by_its_id(table: str, roster: Roster) -> None:
    roster_withdraw(actor=roster.team.officer, assignment=roster.on, reason="ill", now=roster.now)
    site_rules_change(
        actor=roster.team.officer,
        rules=roster.team.site.rules,
        changes={"notice_hour": 8},
        reason="letter 2",
        now=roster.now,
    )
    documented(roster)
    refused(APPEND_ONLY, lambda: sql(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"))


@only_sqlite
def test_replace_rewrites_no_dose_by_way_of_its_date(roster: Roster) -> None:
    columns = [field.column for field in Dose._meta.concrete_fields if field.column != "id"]
    names = ", ".join(columns)
    source = names.replace("product", "'another product'")
    refused(
        APPEND_ONLY,
        lambda: sql(f"INSERT OR REPLACE INTO staff_dose ({names}) SELECT {source} FROM staff_dose"),
    )


@pytest.mark.skipif(SQLITE, reason="SQLite has no TRUNCATE")
@pytest.mark.parametrize("table", sorted(guards.APPEND_ONLY_TABLES))
def test_a_table_of_the_record_is_not_truncated(table: str, roster: Roster) -> None:
    sql("SET CONSTRAINTS ALL IMMEDIATE")
    refused(APPEND_ONLY, lambda: sql(f"TRUNCATE {table} CASCADE"))


# The guards themselves


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
