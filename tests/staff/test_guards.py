"""Nobody uncleared on a roster, by any door to the database, and nothing pulled from under one."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection

from staff.guards.kept import APPEND_ONLY
from staff.guards.roster import HAS_PEOPLE, NOT_CLEARED
from staff.models import Assignment, Clearance, Outing, Withdrawal
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_withdraw
from tests.factories import make_outing
from tests.staff.roster_case import Roster, refused, sql

pytestmark = pytest.mark.django_db
SQLITE = connection.vendor == "sqlite"
only_sqlite = pytest.mark.skipif(not SQLITE, reason="SQLite's own syntax; PostgreSQL has no such statement")


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
