"""The record is only added to, by any door to the database."""

from __future__ import annotations

import pytest
from django.db import connection

from staff import guards
from staff.models import AuditEntry, Dose, Withdrawal
from staff.services.roster import roster_withdraw
from staff.triggers import APPEND_ONLY
from tests.staff.roster_case import Roster, refused, sql

pytestmark = pytest.mark.django_db
SQLITE = connection.vendor == "sqlite"
only_sqlite = pytest.mark.skipif(not SQLITE, reason="SQLite's own syntax; PostgreSQL has no such statement")


KEPT: dict[str, str] = {
    "dose moved to another day": "UPDATE staff_dose SET given_on = '2026-01-01'",
    "dose given to somebody else": "UPDATE staff_dose SET person_id = person_id + 1",
    "dose called seen": "UPDATE staff_dose SET evidence = 'none'",
    "dose deleted": "DELETE FROM staff_dose",
    "audit row changed": "UPDATE staff_auditentry SET action = 'nothing.done'",
    "audit detail changed": "UPDATE staff_auditentry SET detail = '{}'",
    "audit rows deleted": "DELETE FROM staff_auditentry",
    "withdrawal changed": "UPDATE staff_withdrawal SET reason = 'other'",
    "withdrawals deleted": "DELETE FROM staff_withdrawal",
}


@pytest.mark.parametrize("what", KEPT)
def test_the_record_stays_as_it_was_written(what: str, roster: Roster) -> None:
    roster_withdraw(actor=roster.team.officer, assignment=roster.on, reason="ill", now=roster.now)
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
