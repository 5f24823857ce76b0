"""An approval and its withdrawal hold from their commit on, as a change of rules does: marks first, then chunks."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError

from staff.ground.errors import NotCleared, Refused
from staff.guards.roster import NOT_CLEARED
from staff.models import (
    Assignment,
    Clearance,
    ClearancePending,
    Person,
    Regimen,
    RegimenApproval,
    RulesChange,
    Withdrawal,
)
from staff.rules.record.intervals import covers
from staff.selectors.record.readiness import readiness_of
from staff.selectors.record.records import clearance_of
from staff.services.record.people import person_create
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record
from staff.services.regimen.approvals import regimen_approve, regimen_withdraw
from tests.factories import PRE_EXPOSURE, give_doses, make_person, make_team
from tests.staff.test_rules_change import Scene, make_scene, scene, together

__all__ = ["scene"]
pytestmark = pytest.mark.django_db


def withdraw(scene: Scene) -> None:
    approval = RegimenApproval.objects.get(
        site=scene.team.site, regimen__code=PRE_EXPOSURE, withdrawn_at__isnull=True
    )
    regimen_withdraw(actor=scene.team.officer, approval=approval, why="recalled", now=scene.now)


def approve_again(scene: Scene) -> None:
    regimen_approve(
        actor=scene.team.officer,
        regimen=Regimen.objects.get(code=PRE_EXPOSURE, version=1),
        site=scene.team.site,
        authority="Health office of the test",
        approved_on=scene.team.site.local_date(scene.now),
        document="letter 3",
        now=scene.now,
    )


def test_a_withdrawal_takes_the_rostered_off_at_once_and_keeps_the_others_off(scene: Scene) -> None:
    withdraw(scene)
    change = RulesChange.objects.get()
    assert change.changes == {"regimen": {"old": f"{PRE_EXPOSURE} v1", "new": None}}
    assert change.finished_at is None and change.reason == "recalled"
    assert not Assignment.objects.exists() and Withdrawal.objects.get().person == scene.on
    assert ClearancePending.objects.filter(person=scene.off).exists()
    with pytest.raises((IntegrityError, DatabaseError), match=NOT_CLEARED):
        scene.insert(scene.off)
    with pytest.raises(NotCleared):
        scene.assign(scene.off)
    recompute_catch_up(now=scene.now)
    change.refresh_from_db()
    assert change.finished_at == scene.now
    assert not Clearance.objects.filter(person=scene.off, superseded_on__isnull=True).exists()


def test_an_approval_gives_clearance_once_recomputed_and_not_before(scene: Scene) -> None:
    withdraw(scene)
    recompute_catch_up(now=scene.now)
    approve_again(scene)
    row = readiness_of(scene.off, scene.outing.date)
    assert not row.clear and row.words == (
        "The record or the site's rules changed; this clearance is being recomputed.",
    )
    recompute_catch_up(now=scene.now)
    assert readiness_of(scene.off, scene.outing.date).clear


def test_an_approval_during_a_recompute_takes_over_who_still_waits(scene: Scene) -> None:
    first = scene.change(settling_days=1)
    withdraw(scene)
    first.refresh_from_db()
    second = RulesChange.objects.get(finished_at__isnull=True)
    assert first.overtaken_by == second and second.pending.count() == second.total - 1


@pytest.mark.parametrize("door", ["assign", "insert", "record", "newcomer"])
def test_in_a_race_with_a_withdrawal_nobody_gets_onto_a_roster_by_the_old_table(
    door: str, real_transactions: None, now: datetime
) -> None:
    scene = make_scene(make_team(now), now)
    team, earlier = scene.team, scene.team.site.local_date(now) - timedelta(days=50)
    for number in range(6):
        person = make_person(team.site, team.officer, now, number=f"r{number}")
        give_doses(person, team.officer, now, 40, 33, 12)

        def newcomer(number: int = number) -> None:
            made = person_create(
                actor=team.officer, site=team.site, number=f"n{number}", name="New Person", now=now
            )
            give_doses(made, team.officer, now, 40, 33, 12)

        doors: dict[str, Any] = {
            "assign": lambda person=person: scene.assign(person),
            "insert": lambda person=person: scene.insert(person),
            "record": lambda person=person: dose_record(
                actor=team.officer, person=person, given_on=earlier, now=now
            ),
            "newcomer": newcomer,
        }
        raised = together(doors[door], lambda: withdraw(scene))
        assert raised[1] is None
        assert raised[0] is None or isinstance(raised[0], Refused | DatabaseError)
        assert not Assignment.objects.filter(person=person).exists()
        for each in Person.objects.filter(site=team.site).select_related("site__rules"):
            stored = [row.as_interval() for row in each.clearances.filter(superseded_on__isnull=True)]
            pending = ClearancePending.objects.filter(person=each).exists()
            assert pending or not covers(stored, scene.outing.date)
            assert pending or set(stored) == set(clearance_of(each).intervals)
        approve_again(scene)
        recompute_catch_up(now=now)
