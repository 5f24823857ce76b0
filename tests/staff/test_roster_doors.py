"""Nobody uncleared on a roster, by any door."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from staff.ground.errors import Invalid, NotCleared
from staff.models import Assignment, Clearance, Outing, Withdrawal
from staff.services.outing.outings import outing_create
from staff.services.outing.roster import roster_assign
from staff.services.record.records import dose_void
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


def test_an_outing_of_the_past_is_planned_by_no_door(team: Team, now: datetime) -> None:
    today = team.site.local_date(now)
    asked = {"area": "Test Area", "method": "house-to-house"}
    for date, made in ((today - timedelta(days=1), 0), (today, 1)):
        try:
            outing_create(actor=team.officer, site_id=team.site.pk, date=date, now=now, **asked)
        except Invalid as refused:
            assert date < today and "later date" in refused.fields["date"]
        assert Outing.objects.count() == made
