"""Filling a roster as proposed, changing places in one go, and undoing: all of it or nothing."""

from __future__ import annotations

from datetime import datetime

import pytest

from staff.ground.errors import Conflict, Invalid, NotCleared
from staff.models import Assignment, AuditEntry, Withdrawal
from staff.planning.roster_values import ProposedRoster
from staff.selectors.outing.roster_board import roster_board
from staff.selectors.outing.roster_proposal import propose_roster
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.outing.roster_changes import Seat, roster_replace, roster_restore
from staff.services.outing.roster_fill import roster_fill, roster_fingerprint
from staff.services.outing.roster_rules import crew_shape_set
from staff.services.record.holds import hold_place
from tests.factories import Team
from tests.staff.roster_scene import Field, make_field


@pytest.fixture
def field(team: Team, now: datetime) -> Field:
    return make_field(team, now, each=2)


def plan_of(field: Field) -> ProposedRoster:
    return propose_roster(roster_board(field.team.site, field.today, 3), field.today).plan


def fill(field: Field, seen: str) -> list[Assignment]:
    return roster_fill(
        actor=field.team.officer, site=field.team.site, first=field.today, days=3, seen=seen, now=field.now
    )


def put_on(field: Field, name: str, number: int = 0) -> Assignment:
    crew = field.crew_of(number)
    return roster_assign(
        actor=field.team.officer,
        outing=crew.outing,
        crew=crew,
        person=field.people[name],
        role=name.split()[0],
        now=field.now,
    )


def on_rosters() -> set[tuple[str, str]]:
    return {
        (row.outing.area, row.person.name) for row in Assignment.objects.select_related("outing", "person")
    }


# Filling


def test_what_was_shown_is_what_is_kept(field: Field) -> None:
    plan = plan_of(field)
    made = fill(field, roster_fingerprint(plan))
    assert {(row.outing.date, row.crew_id, row.role, row.person_id) for row in made} == {
        (place.day, place.crew, place.role, place.person) for place in plan.filled
    }
    assert len(made) == 6
    assert all(row.proposed for row in Assignment.objects.all())
    assert AuditEntry.objects.filter(action="roster.filled").count() == 1
    with pytest.raises(Conflict, match="changed"):
        fill(field, roster_fingerprint(plan))
    assert Assignment.objects.count() == 6


@pytest.mark.parametrize("change", ["held", "put-on", "cancelled", "moved", "shape", "nonsense"])
def test_a_proposal_of_before_a_change_fills_nothing(change: str, field: Field) -> None:
    plan, officer = plan_of(field), field.team.officer
    seen = roster_fingerprint(plan)
    before = 0
    match change:
        case "held":
            for name in ("catcher 1", "catcher 2"):
                hold_place(
                    actor=officer,
                    person=field.people[name],
                    reason="hurt",
                    now=field.now,
                    starts_on=field.today,
                )
        case "put-on":
            put_on(field, "catcher 1")
            before = 1
        case "cancelled":
            outing_cancel(actor=officer, outing=field.outings[0], reason="rain", now=field.now)
        case "moved":
            outing_move(actor=officer, outing=field.outings[0], date=field.day(9), now=field.now)
        case "shape":
            crew_shape_set(
                actor=officer,
                site=field.team.site,
                method="house-to-house",
                needed={"catcher": 1},
                now=field.now,
            )
            field.team.site.refresh_from_db()
        case "nonsense":
            seen = "x"
    with pytest.raises(Conflict, match="changed"):
        fill(field, seen)
    assert Assignment.objects.count() == before


def test_a_choice_by_hand_is_never_overwritten(field: Field) -> None:
    chosen = put_on(field, "catcher 2")
    fill(field, roster_fingerprint(plan_of(field)))
    assert Assignment.objects.get(pk=chosen.pk).proposed is False
    assert Assignment.objects.filter(outing=field.outings[0], role="catcher").get() == chosen


# Changing and undoing


def test_a_place_is_handed_over_in_one_go(field: Field) -> None:
    held = put_on(field, "catcher 1")
    seat = Seat(held.crew, field.people["catcher 2"], "catcher")
    roster_replace(actor=field.team.officer, assignment=held, seat=seat, reason="swapped", now=field.now)
    assert on_rosters() == {("Test Area 1", "catcher 2")}
    assert Withdrawal.objects.get().person == field.people["catcher 1"]


def test_a_hand_over_to_somebody_uncleared_changes_nothing(field: Field) -> None:
    held = put_on(field, "catcher 1")
    other = field.people["catcher 2"]
    hold_place(actor=field.team.officer, person=other, reason="hurt", now=field.now, starts_on=field.today)
    with pytest.raises(NotCleared):
        roster_replace(
            actor=field.team.officer,
            assignment=held,
            seat=Seat(held.crew, other, "catcher"),
            reason="swapped",
            now=field.now,
        )
    assert list(Assignment.objects.all()) == [held]
    assert not Withdrawal.objects.exists()


def test_a_place_in_a_role_one_does_not_have_changes_nothing(field: Field) -> None:
    held = put_on(field, "catcher 1")
    seat = Seat(held.crew, field.people["recorder 1"], "catcher")
    with pytest.raises(Invalid, match="recorder 1"):
        roster_replace(actor=field.team.officer, assignment=held, seat=seat, reason="swapped", now=field.now)
    assert list(Assignment.objects.all()) == [held]


def test_undo_takes_off_what_was_made_and_brings_back_who_went(field: Field) -> None:
    held = put_on(field, "catcher 1")
    gone = Seat(held.crew, held.person, held.role)
    new = roster_replace(
        actor=field.team.officer,
        assignment=held,
        seat=Seat(held.crew, field.people["catcher 2"], "catcher"),
        reason="swapped",
        now=field.now,
    )
    roster_restore(actor=field.team.officer, made=[new.pk], gone=[gone], reason="undone", now=field.now)
    assert on_rosters() == {("Test Area 1", "catcher 1")}


def test_undo_of_what_changed_since_is_refused_whole(field: Field) -> None:
    made = fill(field, roster_fingerprint(plan_of(field)))
    roster_withdraw(actor=field.team.officer, assignment=made[0], reason="ill", now=field.now)
    before = on_rosters()
    with pytest.raises(Conflict, match="can't be undone"):
        roster_restore(
            actor=field.team.officer, made=[row.pk for row in made], gone=[], reason="undone", now=field.now
        )
    assert on_rosters() == before


def test_undo_brings_nobody_back_who_is_not_clear_any_more(field: Field) -> None:
    held = put_on(field, "catcher 1")
    gone = Seat(held.crew, held.person, held.role)
    roster_withdraw(actor=field.team.officer, assignment=held, reason="swapped", now=field.now)
    hold_place(
        actor=field.team.officer, person=held.person, reason="hurt", now=field.now, starts_on=field.today
    )
    with pytest.raises(NotCleared):
        roster_restore(actor=field.team.officer, made=[], gone=[gone], reason="undone", now=field.now)
    assert on_rosters() == set()


def test_the_whole_proposal_is_undone_in_one_go(field: Field) -> None:
    made = fill(field, roster_fingerprint(plan_of(field)))
    roster_restore(
        actor=field.team.officer, made=[row.pk for row in made], gone=[], reason="undone", now=field.now
    )
    assert on_rosters() == set()
    assert Withdrawal.objects.count() == 6


# Crew shapes


def test_a_crew_of_nobody_is_refused(field: Field) -> None:
    with pytest.raises(Invalid, match="at least one"):
        crew_shape_set(
            actor=field.team.officer,
            site=field.team.site,
            method="fixed-post",
            needed={"lead": 0},
            now=field.now,
        )
