"""Taken off, an assignment stays as a row: it binds nobody, shows nothing and never stands again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection

from safety.selectors.crew_day.outing_day import crews_led_by
from staff.guards.kept import APPEND_ONLY
from staff.guards.roster import ENDED_ELSEWHERE, NOT_CLEARED
from staff.models import Assignment, Withdrawal
from staff.selectors.access import outings_visible_to
from staff.selectors.outing.kit import may_tick
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.record.holds import hold_place
from tests.factories import make_outing
from tests.staff.roster_case import Roster, refused, sql

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
RESTS = "standing_assignment_rests_on_a_clearance"
only_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own syntax")


def take_off(roster: Roster) -> Assignment:
    roster_withdraw(actor=roster.team.officer, assignment=roster.on, reason="ill", now=roster.now + DAY / 24)
    return Assignment.everything.get(pk=roster.on.pk)


def put_on(roster: Roster) -> Assignment:
    return roster_assign(
        actor=roster.team.officer,
        outing=roster.outing,
        crew=roster.crew,
        person=roster.team.person,
        role="lead",
        now=roster.now,
    )


ENDS: dict[str, Callable[[Roster], object]] = {
    "hand": take_off,
    "rule": lambda r: hold_place(
        actor=r.team.officer, person=r.team.person, starts_on=r.outing.date, reason="scan", now=r.now
    ),
    "cancellation": lambda r: outing_cancel(actor=r.team.officer, outing=r.outing, reason="storm", now=r.now),
}


@pytest.mark.parametrize("how", ENDS)
def test_who_was_taken_off_stays_as_a_row_that_says_by_what(how: str, roster: Roster) -> None:
    ENDS[how](roster)
    row = Assignment.everything.get()
    assert (row.pk, row.clearance, row.withdrawal) == (roster.on.pk, None, Withdrawal.objects.get())
    assert (row.assigned_at, row.assigned_by) == (roster.now, roster.team.officer)
    assert not Assignment.objects.exists() and not roster.outing.assignments.exists()


UNDONE: dict[str, Callable[[Assignment, Roster], object]] = {
    "sql": lambda _row, r: sql(
        "UPDATE staff_assignment SET withdrawal_id = NULL, clearance_id = %s", r.on.clearance_id
    ),
    "save": lambda row, r: Assignment(
        **{field.attname: getattr(row, field.attname) for field in Assignment._meta.concrete_fields}
        | {"withdrawal_id": None, "clearance_id": r.on.clearance_id}
    ).save(),
    "upsert": lambda row, r: Assignment.objects.bulk_create(
        [r.row(pk=row.pk, person=row.person)],
        update_conflicts=True,
        update_fields=["withdrawal", "clearance"],
        unique_fields=["id"],
    ),
    "another role": lambda _row, _r: Assignment.everything.update(role="recorder"),
    "deleted": lambda _row, _r: sql("DELETE FROM staff_assignment"),
    "deleted by the model": lambda row, _r: row.delete(),
}


@pytest.mark.parametrize("door", UNDONE)
def test_an_ended_row_neither_stands_again_nor_changes_nor_goes_by(door: str, roster: Roster) -> None:
    row = take_off(roster)
    refused(APPEND_ONLY, lambda: UNDONE[door](row, roster))


@only_sqlite
def test_no_replace_swaps_an_ended_row(roster: Roster) -> None:
    row, again = take_off(roster), put_on(roster)
    columns = "crew_id, person_id, role, assigned_by_id, assigned_at, proposed, outing_id"
    for key, ended in ((row.pk, "NULL"), (900, str(row.withdrawal_id))):
        refused(
            APPEND_ONLY,
            lambda key=key, ended=ended: sql(
                f"INSERT OR REPLACE INTO staff_assignment (id, withdrawal_id, clearance_id, {columns})"
                f" SELECT {key}, {ended}, clearance_id, {columns} FROM staff_assignment WHERE id = {again.pk}"
            ),
        )
    for change in (f"id = {row.pk}", f"withdrawal_id = {row.withdrawal_id}, clearance_id = NULL"):
        refused(
            APPEND_ONLY,
            lambda change=change: sql(
                f"UPDATE OR REPLACE staff_assignment SET {change} WHERE id = {again.pk}"
            ),
        )


def test_a_row_ends_only_by_a_withdrawal_of_its_person_from_its_outing(roster: Roster) -> None:
    other, _crew = make_outing(roster.team.site, roster.team.officer, roster.now)
    for outing, person in ((other, roster.team.person), (roster.outing, roster.off)):
        wrong = Withdrawal.objects.create(
            outing=outing, crew_name="x", person=person, role="lead", reason="x", withdrawn_at=roster.now
        )
        refused(
            ENDED_ELSEWHERE,
            lambda wrong=wrong: Assignment.objects.update(withdrawal=wrong, clearance=None),
        )


def test_an_ended_row_carries_no_clearance_and_a_standing_one_always_does(roster: Roster) -> None:
    refused(NOT_CLEARED, lambda: Assignment.objects.update(clearance=None))
    row = Withdrawal.objects.create(
        outing=roster.outing,
        crew_name="x",
        person=roster.team.person,
        role="lead",
        reason="x",
        withdrawn_at=roster.now,
    )
    refused(RESTS, lambda: Assignment.objects.update(withdrawal=row))


def test_put_on_again_they_have_two_rows_and_one_place(roster: Roster) -> None:
    ended, again = take_off(roster), put_on(roster)
    assert list(Assignment.objects.all()) == [again]
    assert set(Assignment.everything.all()) == {ended, again}


def test_an_ended_row_binds_nobody(roster: Roster) -> None:
    other, crew = make_outing(roster.team.site, roster.team.officer, roster.now)
    take_off(roster)
    roster.outing, roster.crew, old = other, crew, roster.outing
    put_on(roster)
    outing_move(actor=roster.team.officer, outing=old, date=old.date + DAY, now=roster.now)
    outing_move(actor=roster.team.officer, outing=old, date=old.date, now=roster.now)
    outing_cancel(actor=roster.team.officer, outing=old, reason="storm", now=roster.now)
    assert roster.outing.assignments.get().person == roster.team.person


def test_who_was_taken_off_sees_and_leads_the_outing_no_more(roster: Roster) -> None:
    user = roster.team.member
    Assignment.objects.update(role="lead")
    assert outings_visible_to(user).exists() and crews_led_by(user).exists()
    assert may_tick(user, roster.outing)
    roster.on.refresh_from_db()
    take_off(roster)
    assert not outings_visible_to(user).exists() and not crews_led_by(user).exists()
    assert not may_tick(user, roster.outing)


def test_a_moved_row_that_rests_on_another_clearance_keeps_its_key(roster: Roster) -> None:
    hold_place(
        actor=roster.team.officer,
        person=roster.team.person,
        starts_on=roster.outing.date + DAY,
        reason="scan",
        now=roster.now,
    )
    assert Assignment.objects.get().pk == roster.on.pk


def test_the_upgrade_puts_back_what_the_trail_says_and_invents_nothing(roster: Roster) -> None:
    values = {"crew_name": roster.crew.name, "reason": "ill", "withdrawn_at": roster.now + DAY}
    known = Withdrawal.objects.create(
        outing=roster.outing,
        person=roster.team.person,
        role="lead",
        withdrawn_by=roster.team.officer,
        **values,
    )
    Withdrawal.objects.create(outing=roster.outing, person=roster.off, role="lead", by_rule=True, **values)
    upgrade = import_module("staff.migrations.0023_assignments_that_ended")
    (row,) = upgrade._ended(apps)
    assert (row.withdrawal, row.crew, row.assigned_at) == (known, roster.crew, roster.now)
    assert (row.assigned_by, row.proposed, row.clearance) == (roster.team.officer, False, None)
