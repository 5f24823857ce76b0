"""Nobody uncleared on a roster, by any door."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from staff.errors import NotCleared
from staff.models import Assignment, Clearance, Withdrawal
from staff.services.records import dose_void
from staff.services.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person

pytestmark = pytest.mark.django_db


def test_a_cleared_person_is_assigned_and_rests_on_their_clearance(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23, 2)
    outing, crew = make_outing(team.site, team.officer, now)
    made = roster_assign(
        actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
    )
    assert made.clearance.starts_on == team.site.local_date(now) - timedelta(days=2)


def test_a_person_one_dose_short_is_refused_with_the_reason(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 30, 23)
    outing, crew = make_outing(team.site, team.officer, now)
    with pytest.raises(NotCleared, match="2 of 3"):
        roster_assign(
            actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
        )


def test_raw_sql_cannot_rest_on_somebody_elses_clearance(team: Team, now: datetime) -> None:
    other = make_person(team.site, team.officer, now, number="2")
    give_doses(other, team.officer, now, 30, 23, 2)
    outing, crew = make_outing(team.site, team.officer, now)
    with (
        pytest.raises(IntegrityError, match="not-cleared"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(
            "INSERT INTO staff_assignment (outing_id, crew_id, person_id, role, clearance_id, assigned_by_id, assigned_at)"
            " VALUES (%s, %s, %s, 'catcher', %s, %s, %s)",
            [
                outing.pk,
                crew.pk,
                team.person.pk,
                Clearance.objects.get(person=other).pk,
                team.officer.pk,
                now,
            ],
        )
    assert not Assignment.objects.exists()


def test_voiding_a_dose_withdraws_the_future_assignments_and_says_why(team: Team, now: datetime) -> None:
    doses = give_doses(team.person, team.officer, now, 30, 23, 2)
    outing, crew = make_outing(team.site, team.officer, now)
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now)
    dose_void(actor=team.officer, dose=doses[2], reason="written on the wrong person", now=now)
    assert not Assignment.objects.exists()
    withdrawal = Withdrawal.objects.get()
    assert withdrawal.by_rule and "2 of 3" in withdrawal.reason
