"""The record is only added to, by any door to the database."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from staff import guards
from staff.guards.kept import APPEND_ONLY
from staff.models import AuditEntry, Dose, RegimenEdit, Withdrawal
from staff.rules.outing.outing_details import OutingDetails
from staff.services.outing.outing_details import outing_change
from staff.services.outing.outings import outing_move
from staff.services.outing.roster import roster_withdraw
from staff.services.record.briefings import briefing_record
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.letters import letter_add
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from staff.services.site.accounts import role_give
from staff.services.site.site_rules import site_rules_change
from tests.documents import picture
from tests.staff.roster_case import Roster, refused, sql

pytestmark = pytest.mark.django_db
SQLITE = connection.vendor == "sqlite"
only_sqlite = pytest.mark.skipif(not SQLITE, reason="SQLite's own syntax; PostgreSQL has no such statement")


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
    dose = Dose.everything.filter(person=roster.off).latest("given_on")
    by = roster.team.officer
    Dose.everything.filter(pk=dose.pk).update(voided_at=roster.now, voided_by=by, void_reason="slip")
    refused(
        APPEND_ONLY,
        lambda: Dose.everything.filter(pk=dose.pk).update(voided_at=None, voided_by=None, void_reason=""),
    )
    refused(APPEND_ONLY, lambda: Dose.everything.filter(pk=dose.pk).update(void_reason="another"))


@only_sqlite
@pytest.mark.parametrize("table", sorted(guards.APPEND_ONLY_TABLES))
def test_replace_rewrites_no_row_by_its_id(table: str, roster: Roster) -> None:
    roster_withdraw(actor=roster.team.officer, assignment=roster.on, reason="ill", now=roster.now)
    later = roster.outing.date + timedelta(days=1)
    outing_move(actor=roster.team.officer, outing=roster.outing, date=later, now=roster.now)
    site_rules_change(
        actor=roster.team.officer,
        rules=roster.team.site.rules,
        changes={"notice_hour": 8},
        reason="letter 2",
        now=roster.now,
    )
    documented(roster)
    outing_change(
        actor=roster.team.officer, outing=roster.outing, details=OutingDetails(note="nets"), now=roster.now
    )
    RegimenEdit.objects.create(regimen=roster.team.post_exposure, by=roster.team.officer, at=roster.now)
    role_give(
        actor=roster.team.officer,
        account=roster.team.liaison,
        site=roster.team.site,
        role="lead",
        now=roster.now,
    )
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
