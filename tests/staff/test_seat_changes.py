"""Somebody on an outing gets another crew or crew role of it: they stay on it all along."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from staff.ground.errors import Conflict, Invalid, NotCleared
from staff.models import Assignment, AuditEntry, Crew, Hold, Withdrawal
from staff.services.outing.outings import outing_cancel
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.outing.roster_changes import Seat, roster_replace, roster_restore
from tests.factories import Team
from tests.staff.roster_scene import Field, make_field

pytestmark = pytest.mark.django_db
LATER = timedelta(hours=1)


@pytest.fixture
def field(team: Team, now: datetime) -> Field:
    found = make_field(team, now, each=2)
    found.people["catcher 1"].crew_roles.create(role="recorder")
    return found


def put_on(field: Field, number: int = 0) -> Assignment:
    crew = field.crew_of(number)
    return roster_assign(
        actor=field.team.officer,
        outing=crew.outing,
        crew=crew,
        person=field.people["catcher 1"],
        role="catcher",
        now=field.now,
    )


def reseat(field: Field, held: Assignment, seat: Seat) -> Assignment:
    return roster_replace(
        actor=field.team.officer, assignment=held, seat=seat, reason="swapped", now=field.now + LATER
    )


def test_another_crew_role_keeps_the_row_and_since_when_it_stands(field: Field) -> None:
    held = put_on(field)
    Assignment.objects.filter(pk=held.pk).update(proposed=True)
    second = Crew.objects.create(outing=held.outing, name="Crew 2")
    reseat(field, held, Seat(second, held.person, "recorder"))
    row = Assignment.objects.get()
    assert (row.pk, row.crew, row.role) == (held.pk, second, "recorder")
    assert (row.assigned_at, row.proposed) == (field.now, False)
    assert not Withdrawal.objects.exists()
    assert AuditEntry.objects.get(action="roster.reseated").detail["old"] == [held.crew_id, "catcher"]


def test_a_place_on_another_outing_is_a_new_row(field: Field) -> None:
    held = put_on(field)
    new = reseat(field, held, Seat(field.crew_of(1), held.person, "recorder"))
    assert new.pk != held.pk
    assert Withdrawal.objects.get().outing == held.outing


@pytest.mark.parametrize("change", ["role", "cancelled", "off", "unclear"])
def test_what_refuses_a_place_refuses_another_seat_and_changes_nothing(change: str, field: Field) -> None:
    held, role, refusals = put_on(field), "recorder", (Conflict, Invalid, NotCleared)
    match change:
        case "role":
            role = "vaccinator"
        case "cancelled":
            outing_cancel(actor=field.team.officer, outing=held.outing, reason="rain", now=field.now)
        case "off":
            roster_withdraw(actor=field.team.officer, assignment=held, reason="ill", now=field.now)
        case "unclear":
            # Past the services: only a mark stands until the record is read again.
            Hold.objects.create(
                person=held.person,
                starts_on=field.today,
                reason="scan",
                placed_by=field.team.officer,
                placed_at=field.now,
            )
    before = list(Assignment.objects.values_list("pk", "role"))
    with pytest.raises(refusals):
        reseat(field, held, Seat(held.crew, held.person, role))
    assert list(Assignment.objects.values_list("pk", "role")) == before


def test_undo_gives_the_old_seat_back_and_the_step_before_can_be_undone_too(field: Field) -> None:
    held, officer = put_on(field), field.team.officer
    first = (held.pk, held.crew_id, "catcher")
    new = reseat(field, held, Seat(held.crew, held.person, "recorder"))
    with pytest.raises(Conflict, match="changed since"):
        roster_restore(
            actor=officer, made=[held.pk], stood=[first], gone=[], reason="undone", now=field.now + LATER
        )
    gone = [Seat(held.crew, held.person, "catcher")]
    stood = [(new.pk, new.crew_id, "recorder")]
    roster_restore(
        actor=officer, made=[new.pk], stood=stood, gone=gone, reason="undone", now=field.now + LATER
    )
    row = Assignment.objects.get()
    assert (row.pk, row.role, row.assigned_at) == (held.pk, "catcher", field.now)
    assert not Withdrawal.objects.exists()
    roster_restore(
        actor=officer, made=[row.pk], stood=[first], gone=[], reason="undone", now=field.now + LATER
    )
    assert not Assignment.objects.exists()
