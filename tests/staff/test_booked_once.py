"""Nobody is on two outings of one date, by any door; a moved outing takes nobody along who is elsewhere."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection

from staff.ground.errors import Conflict
from staff.guards.roster import BOOKED_TWICE
from staff.models import Assignment, Crew, Outing
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign, roster_withdraw
from tests.factories import make_outing
from tests.staff.roster_case import Roster, refused, sql

only_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own syntax")


@pytest.fixture
def elsewhere(roster: Roster) -> tuple[Outing, Crew]:
    """Another outing of the same site and date."""
    return make_outing(roster.team.site, roster.team.officer, roster.now)


def again(roster: Roster, elsewhere: tuple[Outing, Crew]) -> Assignment:
    outing, crew = elsewhere
    return roster.row(outing=outing, crew=crew, person=roster.on.person)


def test_the_service_names_the_other_outing(roster: Roster, elsewhere: tuple[Outing, Crew]) -> None:
    outing, crew = elsewhere
    with pytest.raises(Conflict, match=roster.outing.area) as caught:
        assign(roster, outing, crew)
    assert caught.value.code == "booked-twice"


def test_the_database_refuses_a_second_outing_of_the_day(
    roster: Roster, elsewhere: tuple[Outing, Crew]
) -> None:
    row = again(roster, elsewhere)
    refused(BOOKED_TWICE, row.save)
    refused(BOOKED_TWICE, lambda: Assignment.objects.bulk_create([again(roster, elsewhere)]))


@only_sqlite
@pytest.mark.parametrize("word", ["REPLACE", "IGNORE", "FAIL"])
def test_no_conflict_clause_books_anybody_twice(
    word: str, roster: Roster, elsewhere: tuple[Outing, Crew]
) -> None:
    row = again(roster, elsewhere)
    refused(
        BOOKED_TWICE,
        lambda: sql(
            f"INSERT OR {word} INTO staff_assignment (outing_id, crew_id, person_id, role, clearance_id,"
            " assigned_by_id, assigned_at) VALUES (%s, %s, %s, 'catcher', %s, %s, %s)",
            row.outing_id,
            row.crew_id,
            row.person_id,
            row.clearance_id,
            row.assigned_by_id,
            row.assigned_at,
        ),
    )


@pytest.mark.parametrize("days", [-1, 1])
def test_the_day_before_and_the_day_after_are_free(
    days: int, roster: Roster, elsewhere: tuple[Outing, Crew]
) -> None:
    outing, crew = elsewhere
    Outing.objects.filter(pk=outing.pk).update(date=outing.date + timedelta(days=days))
    outing.refresh_from_db()
    assign(roster, outing, crew)
    assert Assignment.objects.filter(person=roster.on.person).count() == 2


def test_a_raw_move_onto_a_date_with_somebody_elsewhere_is_refused(
    roster: Roster, elsewhere: tuple[Outing, Crew]
) -> None:
    other = on_the_day_after(roster, elsewhere)
    refused(BOOKED_TWICE, lambda: Outing.objects.filter(pk=other.pk).update(date=roster.outing.date))
    refused(BOOKED_TWICE, lambda: sql("UPDATE staff_outing SET date = %s", roster.outing.date))


def test_a_move_takes_off_who_is_elsewhere_on_the_new_date(
    roster: Roster, elsewhere: tuple[Outing, Crew]
) -> None:
    other = on_the_day_after(roster, elsewhere)
    gone = outing_move(actor=roster.team.officer, outing=other, date=roster.outing.date, now=roster.now)
    assert [(row.person, row.by_rule) for row in gone] == [(roster.on.person, True)]
    assert roster.outing.area in gone[0].reason
    assert list(Assignment.objects.all()) == [roster.on]


def test_an_assignment_cannot_be_pointed_at_another_outing_of_a_booked_day(
    roster: Roster, elsewhere: tuple[Outing, Crew]
) -> None:
    other = on_the_day_after(roster, elsewhere)
    third, crew = make_outing(roster.team.site, roster.team.officer, roster.now)
    rows = Assignment.objects.filter(outing=other)
    refused(BOOKED_TWICE, lambda: rows.update(outing=third, crew=crew))


@pytest.mark.parametrize("ending", ["withdrawn", "cancelled"])
def test_a_day_given_up_is_free_again(ending: str, roster: Roster, elsewhere: tuple[Outing, Crew]) -> None:
    officer = roster.team.officer
    if ending == "withdrawn":
        roster_withdraw(actor=officer, assignment=roster.on, reason="swapped", now=roster.now)
    else:
        outing_cancel(actor=officer, outing=roster.outing, reason="rain", now=roster.now)
    assert assign(roster, *elsewhere).outing == elsewhere[0]


def assign(roster: Roster, outing: Outing, crew: Crew) -> Assignment:
    return roster_assign(
        actor=roster.team.officer,
        outing=outing,
        crew=crew,
        person=roster.on.person,
        role="catcher",
        now=roster.now,
    )


def on_the_day_after(roster: Roster, elsewhere: tuple[Outing, Crew]) -> Outing:
    """The other outing a day later, with the same person on it."""
    outing, crew = elsewhere
    Outing.objects.filter(pk=outing.pk).update(date=outing.date + timedelta(days=1))
    outing.refresh_from_db()
    assign(roster, outing, crew)
    return outing
