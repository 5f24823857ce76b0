"""A record that changes past the services marks its person: on no roster until the tick has recomputed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection

from staff.guards.roster import NOT_CLEARED
from staff.models import Assignment, Clearance, ClearancePending, Person
from staff.selectors.record.readiness import clearance_on, readiness_of
from staff.selectors.record.verify import differences
from staff.services.record.briefings import briefing_record
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.holds import hold_place
from staff.services.record.letters import letter_add
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from tests.documents import picture
from tests.factories import give_doses, make_person
from tests.staff.roster_case import Roster, refused, sql

pytestmark = pytest.mark.django_db


def full_record(roster: Roster) -> Person:
    """Somebody clear with an entry of every kind, all made through the services."""
    team, now = roster.team, roster.now
    today, person = team.site.local_date(now), make_person(team.site, team.officer, now, number="ready")
    give_doses(person, team.officer, now, 40, 33, 12)
    titre_record(actor=team.officer, person=person, taken_on=today, iu_per_ml=Decimal("0.9"), now=now)
    briefing_record(actor=team.officer, person=person, held_on=today, now=now)
    hold_place(actor=team.officer, person=person, starts_on=date(2026, 9, 1), reason="leave", now=now)
    dose = dose_record(actor=team.officer, person=person, given_on=today, evidence="none", now=now)
    row = certificate_add(
        actor=team.officer, person=person, kind="certificate", content=picture("a"), now=now
    )
    certificate_verify(actor=team.liaison, certificate=row, doses=[dose], now=now)
    letter_add(
        actor=team.officer,
        person=person,
        clinician="Test Clinician",
        signed_on=today,
        valid_until=today,
        content=picture("b"),
        now=now,
    )
    return person


def insert(roster: Roster, person: Person) -> None:
    """Past every service, on the clearance that stands in the table."""
    cover = Clearance.objects.filter(person=person, superseded_on__isnull=True).first()
    Assignment.objects.bulk_create([roster.row(person=person, clearance=cover)])


CHANGES = {
    "a titre added": "INSERT INTO staff_titre (person_id, taken_on, iu_per_ml, laboratory, evidence, recorded_by_id,"
    " recorded_at, recorded_on, void_reason) SELECT person_id, '2026-02-01', 0.1, laboratory, evidence, recorded_by_id,"
    " recorded_at, recorded_on, '' FROM staff_titre WHERE person_id = {person}",
    "a titre voided": "UPDATE staff_titre SET voided_at = recorded_at, voided_by_id = recorded_by_id,"
    " void_reason = 'x' WHERE person_id = {person}",
    "a hold brought forward": "UPDATE staff_hold SET starts_on = '2026-03-01' WHERE person_id = {person}",
    "a hold deleted": "DELETE FROM staff_hold WHERE person_id = {person}",
    "a briefing deleted": "DELETE FROM staff_briefing WHERE person_id = {person}",
    "a letter voided": "UPDATE staff_clearanceletter SET voided_at = recorded_at,"
    " voided_by_id = recorded_by_id, void_reason = 'x' WHERE person_id = {person}",
    "a dose voided": "UPDATE staff_dose SET voided_at = recorded_at, voided_by_id = recorded_by_id,"
    " void_reason = 'x' WHERE person_id = {person}",
    "a document checked": "UPDATE staff_certificate SET verified_at = uploaded_at, verified_by_id = {liaison}"
    " WHERE person_id = {person} AND verified_at IS NULL",
    "leaving the team": "UPDATE staff_person SET active_until = '2026-03-01' WHERE id = {person}",
    "immunocompromised": "UPDATE staff_person SET immunocompromised = TRUE WHERE id = {person}",
}


@pytest.mark.parametrize("what", CHANGES)
def test_a_change_past_the_services_keeps_the_person_off_until_it_is_recomputed(
    what: str, roster: Roster
) -> None:
    person = full_record(roster)
    assert not ClearancePending.objects.exists(), "the services take their own marks away"
    sql(CHANGES[what].format(person=person.pk, liaison=roster.team.liaison.pk))
    mark = ClearancePending.objects.get()
    assert (mark.person, mark.change) == (person, None)
    assert clearance_on(person, roster.outing.date) is None
    assert not readiness_of(person, roster.outing.date).clear
    refused(NOT_CLEARED, lambda: insert(roster, person))
    named = f"clearance of person {person.pk}"
    assert named in [one.row for one in differences(roster.now)]
    recompute_catch_up(now=roster.now)
    assert not ClearancePending.objects.exists()
    assert list(differences(roster.now)) == []


def test_whoever_is_on_a_coming_outing_is_withdrawn_by_the_tick(roster: Roster) -> None:
    person = roster.on.person
    assert Assignment.objects.filter(person=person).exists()
    sql(f"UPDATE staff_person SET immunocompromised = TRUE WHERE id = {person.pk}")
    recompute_catch_up(now=roster.now)
    assert not Assignment.objects.filter(person=person).exists()


def test_what_says_nothing_about_clearance_marks_nobody(roster: Roster) -> None:
    full_record(roster)
    sql("UPDATE staff_person SET name = 'Another', phone = '1', active_until = active_until")
    Person.objects.bulk_create([Person(site=roster.team.site, number="new", name="New Person")])
    assert not ClearancePending.objects.exists()


REPLACED = {
    "staff_person": {"immunocompromised": "1"},
    "staff_hold": {"starts_on": "'2026-03-01'"},
    "staff_briefing": {"person_id": "{other}"},
}


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has REPLACE")
@pytest.mark.parametrize("table", REPLACED)
def test_a_replaced_row_marks_whose_it_was(table: str, roster: Roster) -> None:
    person = full_record(roster)
    with connection.cursor() as cursor:
        columns = [c.name for c in connection.introspection.get_table_description(cursor, table)]
    said = {name: value.format(other=roster.off.pk) for name, value in REPLACED[table].items()}
    values = ", ".join(said.get(name, name) for name in columns)
    whose = "id" if table == "staff_person" else "person_id"
    sql(
        f"INSERT OR REPLACE INTO {table} ({', '.join(columns)})"
        f" SELECT {values} FROM {table} WHERE {whose} = {person.pk}"
    )
    assert person in {mark.person for mark in ClearancePending.objects.all()}
    recompute_catch_up(now=roster.now)
    assert list(differences(roster.now)) == []


def test_a_document_taken_away_from_a_dose_marks_whose_dose_it_is(roster: Roster) -> None:
    person = full_record(roster)
    with connection.cursor() as cursor:
        on = " ON staff_doseverification" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER staff_doseverification_kept_delete{on}")
        cursor.execute("DELETE FROM staff_doseverification")
    assert ClearancePending.objects.get().person == person
