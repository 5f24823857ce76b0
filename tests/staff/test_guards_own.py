"""Nobody clears themself past the services either; whoever has no account or isn't named is nobody's own."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection

from staff.guards.people import SECOND_PERSON
from staff.models import Briefing, ClearanceLetter, Dose, Hold, Person, Titre, User
from staff.services.record.certificates import certificate_add
from staff.services.record.holds import hold_place
from tests.documents import picture
from tests.factories import Team, also_member
from tests.staff.roster_case import refused, sql

pytestmark = pytest.mark.django_db
only_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own syntax")

Row = Callable[[Team, datetime, User], Any]


def recorded(team: Team, now: datetime, by: User) -> dict[str, Any]:
    return {
        "person": team.person,
        "recorded_by": by,
        "recorded_at": now,
        "recorded_on": team.site.local_date(now),
    }


def dose(team: Team, now: datetime, by: User, evidence: str = "certificate-seen") -> Dose:
    return Dose(given_on=team.site.local_date(now), evidence=evidence, **recorded(team, now, by))


def titre(team: Team, now: datetime, by: User) -> Titre:
    return Titre(taken_on=team.site.local_date(now), iu_per_ml=1, **recorded(team, now, by))


def briefing(team: Team, now: datetime, by: User) -> Briefing:
    return Briefing(held_on=team.site.local_date(now), **recorded(team, now, by))


def letter(team: Team, now: datetime, by: User) -> ClearanceLetter:
    today = team.site.local_date(now)
    row = certificate_add(
        actor=team.lead, person=team.person, kind="clearance-letter", content=picture(), now=now
    )
    return ClearanceLetter(
        clinician="x", signed_on=today, valid_until=today, document=row, **recorded(team, now, by)
    )


@pytest.mark.parametrize("row", [dose, titre, briefing, letter])
def test_a_row_that_clears_is_somebody_elses(row: Row, team: Team, now: datetime) -> None:
    also_member(team, team.officer)
    own, theirs = row(team, now, team.officer), row(team, now, team.liaison)
    refused(SECOND_PERSON, own.save)
    refused(SECOND_PERSON, lambda: type(own).objects.bulk_create([own]))
    theirs.save()


@pytest.mark.parametrize("row", [dose, titre, briefing, letter])
def test_somebody_without_an_account_is_nobodys_own(row: Row, team: Team, now: datetime) -> None:
    Person.objects.filter(pk=team.person.pk).update(user=None)
    kept = row(team, now, team.officer)
    kept.save()
    assert type(kept).objects.filter(pk=kept.pk, recorded_by=team.officer).exists()


def test_a_dose_without_a_document_may_be_ones_own(team: Team, now: datetime) -> None:
    also_member(team, team.officer)
    kept = dose(team, now, team.officer, evidence="none")
    kept.save()
    assert type(kept).objects.filter(pk=kept.pk, recorded_by=team.officer).exists()


def test_nobody_voids_an_own_titre_for_a_low_one_holds_back(team: Team, now: datetime) -> None:
    also_member(team, team.officer)
    titre(team, now, team.liaison).save()
    void = {"voided_at": now, "void_reason": "x"}
    refused(SECOND_PERSON, lambda: Titre.objects.update(voided_by=team.officer, **void))
    assert Titre.objects.update(voided_by=team.liaison, **void) == 1


def test_nobody_releases_an_own_hold_and_a_phones_report_may(team: Team, now: datetime) -> None:
    also_member(team, team.officer)
    today = team.site.local_date(now)
    for source, by in (("officer", team.liaison), ("incident:x", None)):
        hold_place(
            actor=team.officer, person=team.person, starts_on=today, reason="x", source=source, now=now
        )
        hold, released = Hold.objects.filter(source=source), {"released_at": now, "ends_on": today}
        refused(SECOND_PERSON, lambda hold=hold, said=released: hold.update(released_by=team.officer, **said))
        assert hold.update(released_by=by, **released) == 1


def test_a_briefing_is_not_moved_onto_who_recorded_it(team: Team, now: datetime) -> None:
    briefing(team, now, team.officer).save()
    other = Person.objects.create(site=team.site, number="8", name="Test Officer", user=team.officer)
    refused(SECOND_PERSON, lambda: Briefing.objects.update(person=other))


def test_a_dose_from_before_the_account_was_linked_can_be_voided(team: Team, now: datetime) -> None:
    dose(team, now, team.officer).save()
    also_member(team, team.officer)
    said = {"voided_at": now + timedelta(hours=1), "void_reason": "x"}
    assert Dose.objects.update(voided_by=team.liaison, **said) == 1


@only_sqlite
@pytest.mark.parametrize("word", ["REPLACE", "IGNORE", "FAIL"])
def test_no_conflict_clause_of_sqlite_lets_an_own_briefing_in(word: str, team: Team, now: datetime) -> None:
    person, day = also_member(team, team.officer), team.site.local_date(now)
    statement = (
        f"INSERT OR {word} INTO staff_briefing (person_id, held_on, held_by, recorded_by_id, recorded_at, recorded_on)"
        " VALUES (%s, %s, '', %s, %s, %s)"
    )
    refused(SECOND_PERSON, lambda: sql(statement, person.pk, day, team.officer.pk, now, day))
