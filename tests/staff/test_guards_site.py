"""Who works for one site goes out by its rules alone, and a check takes two people: held by the database too."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection

from staff.guards.people import SECOND_PERSON, SITE_KEPT
from staff.guards.roster import NOT_CLEARED
from staff.models import Assignment, Certificate, Clearance, Dose, DoseVerification, Outing, Person
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.records import dose_record
from tests.documents import picture
from tests.factories import give_doses, make_outing, make_person
from tests.staff.roster_case import Roster, refused, sql

pytestmark = pytest.mark.django_db
only_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own syntax")


def elsewhere(roster: Roster) -> tuple[Person, Clearance]:
    """Somebody whom the other site has cleared by its own rules."""
    team, now = roster.team, roster.now
    person = make_person(team.other_site, team.stranger, now, number="x")
    give_doses(person, team.stranger, now, 30, 23, 2)
    return person, Clearance.objects.get(person=person, superseded_on__isnull=True)


def test_nobody_of_another_site_is_on_a_roster_however_clear(roster: Roster) -> None:
    person, cover = elsewhere(roster)
    refused(NOT_CLEARED, lambda: roster.row(person=person, clearance=cover).save())
    refused(NOT_CLEARED, lambda: Assignment.objects.bulk_create([roster.row(person=person, clearance=cover)]))
    refused(
        NOT_CLEARED,
        lambda: sql("UPDATE staff_assignment SET person_id = %s, clearance_id = %s", person.pk, cover.pk),
    )


def test_neither_an_outing_nor_a_person_changes_site(roster: Roster) -> None:
    other = roster.team.other_site
    empty, _crew = make_outing(roster.team.site, roster.team.officer, roster.now)
    for outing in (roster.outing, empty):
        refused(SITE_KEPT, lambda row=outing: Outing.objects.filter(pk=row.pk).update(site=other))
    for person in (roster.team.person, roster.off):
        refused(SITE_KEPT, lambda row=person: Person.objects.filter(pk=row.pk).update(site=other))
    assert Person.objects.filter(pk=roster.off.pk).update(name="Another Name") == 1


@only_sqlite
def test_no_row_is_replaced_by_one_of_another_site(roster: Roster) -> None:
    other, outing = roster.team.other_site.pk, roster.outing.pk
    names = [field.column for field in Outing._meta.concrete_fields]
    said = ", ".join("%s" if name == "site_id" else name for name in names)
    statement = f"INSERT OR REPLACE INTO staff_outing ({', '.join(names)}) SELECT {said} FROM staff_outing WHERE id = %s"
    refused(SITE_KEPT, lambda: sql(statement, other, outing))


def undocumented(roster: Roster) -> tuple[Dose, Certificate]:
    team, now = roster.team, roster.now
    day = team.site.local_date(now) - timedelta(days=2)
    dose = dose_record(actor=team.officer, person=roster.off, given_on=day, evidence="none", now=now)
    row = certificate_add(
        actor=team.officer, person=roster.off, kind="certificate", content=picture(), now=now
    )
    return dose, row


def test_a_check_past_the_services_takes_a_second_person_too(roster: Roster) -> None:
    team, now = roster.team, roster.now
    dose, row = undocumented(roster)

    def checked(actor: object) -> Callable[[], object]:
        return lambda: DoseVerification.objects.create(
            dose=dose, certificate=row, verified_by=actor, verified_at=now
        )

    for actor in (team.officer, team.liaison):
        refused(SECOND_PERSON, checked(actor))  # nobody has checked the document yet
    certificate_verify(actor=team.liaison, certificate=row, doses=[], now=now)
    for actor in (team.officer, team.lead):
        refused(SECOND_PERSON, checked(actor))
    checked(team.liaison)()


def test_a_document_of_somebody_else_proves_no_dose(roster: Roster) -> None:
    team, now = roster.team, roster.now
    dose, _row = undocumented(roster)
    other = certificate_add(
        actor=team.officer, person=team.person, kind="certificate", content=picture("other"), now=now
    )
    certificate_verify(actor=team.liaison, certificate=other, doses=[], now=now)
    refused(
        SECOND_PERSON,
        lambda: DoseVerification.objects.create(
            dose=dose, certificate=other, verified_by=team.liaison, verified_at=now
        ),
    )


def test_nobody_checks_a_document_of_their_own_record_by_sql(roster: Roster) -> None:
    team, now = roster.team, roster.now
    _dose, row = undocumented(roster)
    Person.objects.filter(pk=roster.off.pk).update(user=team.liaison)
    own = Certificate.objects.filter(pk=row.pk)
    refused(SECOND_PERSON, lambda: own.update(verified_by=team.liaison, verified_at=now))
    assert own.update(verified_by=team.lead, verified_at=now) == 1
