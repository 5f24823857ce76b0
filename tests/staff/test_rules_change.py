"""A change of rules holds from its commit on: whoever hasn't been recomputed yet gets onto no roster, by any door."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from staff.ground.errors import Invalid, NotCleared, Refused
from staff.guards.roster import NOT_CLEARED
from staff.models import (
    Assignment,
    AuditEntry,
    Clearance,
    ClearancePending,
    Crew,
    Outing,
    Person,
    PersonDue,
    RulesChange,
    SiteRules,
    Withdrawal,
)
from staff.rules.record.intervals import covers
from staff.selectors.record.readiness import readiness_of
from staff.selectors.record.records import clearance_of
from staff.selectors.site.rules_preview import progress_of
from staff.services.outing.outings import outing_move
from staff.services.outing.roster import roster_assign
from staff.services.record import recompute
from staff.services.record.recompute import recompute_catch_up, recompute_next
from staff.services.record.records import dose_record
from staff.services.site.site_rules import site_rules_change
from tests.factories import Team, give_doses, make_outing, make_person, make_team


@dataclass
class Scene:
    """`on` is on the coming outing; `off` could be. Both have three doses."""

    team: Team
    on: Person
    off: Person
    outing: Outing
    crew: Crew
    now: datetime

    def change(self, **changes: Any) -> RulesChange:
        rules = SiteRules.objects.get(site=self.team.site)
        return site_rules_change(
            actor=self.team.officer, rules=rules, changes=changes, reason="letter 2", now=self.now
        )

    def assign(self, person: Person) -> Assignment:
        return roster_assign(
            actor=self.team.officer,
            outing=self.outing,
            crew=self.crew,
            person=person,
            role="catcher",
            now=self.now,
        )

    def insert(self, person: Person) -> None:
        """Past every service, on the clearance that stands in the table."""
        cover = Clearance.objects.filter(person=person, superseded_on__isnull=True).first()
        with transaction.atomic():
            Assignment.objects.bulk_create(
                [
                    Assignment(
                        outing=self.outing,
                        crew=self.crew,
                        person=person,
                        role="catcher",
                        clearance_id=cover.pk if cover else 0,
                        assigned_by=self.team.officer,
                        assigned_at=self.now,
                    )
                ]
            )


def make_scene(team: Team, now: datetime) -> Scene:
    people = [make_person(team.site, team.officer, now, number=name) for name in ("on", "off")]
    for person in people:
        give_doses(person, team.officer, now, 40, 33, 12)
    outing, crew = make_outing(team.site, team.officer, now)
    scene = Scene(team, *people, outing, crew, now)
    scene.assign(scene.on)
    return scene


@pytest.fixture
def scene(team: Team, now: datetime) -> Scene:
    return make_scene(team, now)


def test_whoever_is_on_a_coming_outing_is_judged_by_the_new_rules_at_once(scene: Scene) -> None:
    change = scene.change(doses_required=4)
    assert not Assignment.objects.exists()
    assert Withdrawal.objects.get().person == scene.on
    assert change.finished_at is None and change.pending.count() == change.total - 1


def test_the_others_are_on_no_roster_until_recomputed_by_service_or_raw(scene: Scene) -> None:
    scene.change(doses_required=4)
    stale = Clearance.objects.get(person=scene.off, superseded_on__isnull=True)
    assert stale.as_interval().starts_on <= scene.outing.date
    with pytest.raises((IntegrityError, DatabaseError), match=NOT_CLEARED):
        scene.insert(scene.off)
    with pytest.raises(NotCleared):
        scene.assign(scene.off)
    assert not readiness_of(scene.off, scene.outing.date).clear


def test_whoever_is_clear_by_the_new_rules_too_is_recomputed_when_assigned(scene: Scene) -> None:
    scene.change(settling_days=1)
    assert ClearancePending.objects.filter(person=scene.off).exists()
    with pytest.raises((IntegrityError, DatabaseError), match=NOT_CLEARED):
        scene.insert(scene.off)
    assert scene.assign(scene.off).person == scene.off
    assert not ClearancePending.objects.filter(person=scene.off).exists()


def test_a_change_that_gives_clearance_says_that_it_is_being_recomputed(scene: Scene) -> None:
    scene.change(settling_days=100)
    recompute_catch_up(now=scene.now)
    scene.change(settling_days=0)
    row = readiness_of(scene.off, scene.outing.date)
    assert not row.clear and row.words == (
        "The record or the site's rules changed; this clearance is being recomputed.",
    )
    recompute_catch_up(now=scene.now)
    assert readiness_of(scene.off, scene.outing.date).clear


def test_a_past_outing_is_not_moved_ahead_with_people_who_wait(scene: Scene) -> None:
    later = scene.now + timedelta(days=10)
    rules = SiteRules.objects.get(site=scene.team.site)
    site_rules_change(
        actor=scene.team.officer, rules=rules, changes={"settling_days": 1}, reason="r", now=later
    )
    assert ClearancePending.objects.filter(person=scene.on).exists()
    with pytest.raises((IntegrityError, DatabaseError), match=NOT_CLEARED), transaction.atomic():
        Outing.objects.filter(pk=scene.outing.pk).update(date=scene.outing.date + timedelta(days=30))


def test_chunks_go_on_where_a_worker_stopped(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(5):
        make_person(scene.team.site, scene.team.officer, scene.now, number=f"more-{number}")
    monkeypatch.setattr(recompute, "CHUNK", 2)
    change = scene.change(doses_required=4)
    assert recompute_next(site_id=change.site_id, now=scene.now) == 2
    assert progress_of(change).done == 3 and 0 < progress_of(change).percent < 100
    recompute_catch_up(now=scene.now)
    change.refresh_from_db()
    assert change.finished_at == scene.now and progress_of(change).percent == 100
    for person in Person.objects.filter(site=scene.team.site).select_related("site__rules"):
        stored = {row.as_interval() for row in person.clearances.filter(superseded_on__isnull=True)}
        assert stored == set(clearance_of(person).intervals)


def test_a_later_change_takes_over_who_still_waits(scene: Scene) -> None:
    first = scene.change(doses_required=4)
    second = scene.change(doses_required=2)
    first.refresh_from_db()
    assert first.overtaken_by == second and first.finished_at == scene.now
    assert not first.pending.exists() and second.pending.count() == second.total
    recompute_catch_up(now=scene.now)
    assert not RulesChange.objects.filter(finished_at__isnull=True).exists()


def test_a_site_that_cannot_be_recomputed_stays_closed_and_holds_up_no_other(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    scene.change(doses_required=4)
    other = SiteRules.objects.get(site=scene.team.other_site)
    make_person(scene.team.other_site, scene.team.stranger, scene.now, number="o")
    site_rules_change(
        actor=scene.team.stranger, rules=other, changes={"settling_days": 3}, reason="r", now=scene.now
    )
    real = recompute.clearance_refresh_many

    def broken(*, people: list[Person], **arguments: Any) -> object:
        if scene.off in people:
            raise RuntimeError("a record nobody can judge")
        return real(people=people, **arguments)

    monkeypatch.setattr(recompute, "clearance_refresh_many", broken)
    recompute_catch_up(now=scene.now)
    assert "can't be recomputed" in caplog.text
    assert ClearancePending.objects.filter(person=scene.off).exists()
    assert not ClearancePending.objects.filter(person__site=scene.team.other_site).exists()


def test_a_change_keeps_old_and_new_who_and_why(scene: Scene) -> None:
    change = scene.change(doses_required=4, briefing_months=6)
    assert change.changes == {
        "doses_required": {"old": 3, "new": 4},
        "briefing_months": {"old": None, "new": 6},
    }
    entry = AuditEntry.objects.get(action="rules.changed")
    assert entry.target == f"rules-change:{change.pk}" and entry.detail["reason"] == "letter 2"
    with pytest.raises((IntegrityError, DatabaseError), match="append-only"), transaction.atomic():
        RulesChange.objects.filter(pk=change.pk).update(reason="another")


def test_nothing_changed_no_reason_and_impossible_figures_are_refused(scene: Scene) -> None:
    rules = SiteRules.objects.get(site=scene.team.site)
    for changes, reason in (
        ({"doses_required": 3}, "r"),
        ({"doses_required": 4}, " "),
        ({"doses_required": 0}, "r"),
    ):
        with pytest.raises(Invalid):
            site_rules_change(
                actor=scene.team.officer, rules=rules, changes=changes, reason=reason, now=scene.now
            )
    assert not RulesChange.objects.exists()


def test_due_dates_follow_the_record_and_the_rules(scene: Scene) -> None:
    begun = make_person(scene.team.site, scene.team.officer, scene.now, number="begun")
    give_doses(begun, scene.team.officer, scene.now, 3)
    today = scene.team.site.local_date(scene.now)
    assert [(due.kind, due.due_on) for due in begun.dues.all()] == [("dose", today + timedelta(days=4))]
    assert not scene.off.dues.exists()
    scene.change(recheck_months=1)
    recompute_catch_up(now=scene.now)
    due = PersonDue.objects.get(person=scene.off)
    fresh = Person.objects.select_related("site__rules").get(pk=scene.off.pk)
    assert due.kind == "recheck" and clearance_of(fresh).intervals[-1].ends_on == due.due_on


def together(*acts: Any) -> list[object]:
    """Each in a thread with a connection of its own, from one barrier; what each raised, or None."""
    barrier = threading.Barrier(len(acts))
    raised: list[object] = ["did not end"] * len(acts)

    def run(number: int, act: Any) -> None:
        try:
            barrier.wait(10)
            act()
            raised[number] = None
        except (Refused, DatabaseError) as error:
            raised[number] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised


@pytest.mark.parametrize("door", ["assign", "insert", "record"])
def test_in_a_race_with_a_change_nobody_stays_on_a_roster_against_the_new_rules(
    door: str, real_transactions: None, now: datetime
) -> None:
    """A dose recorded meanwhile must not judge by the rules of before, either."""
    scene = make_scene(make_team(now), now)
    for number in range(8):
        person = make_person(scene.team.site, scene.team.officer, now, number=f"r{number}")
        give_doses(person, scene.team.officer, now, 40, 33, 12)
        earlier = scene.team.site.local_date(now) - timedelta(days=50)
        doors = {
            "assign": lambda person=person: scene.assign(person),
            "insert": lambda person=person: scene.insert(person),
            "record": lambda person=person, day=earlier: dose_record(
                actor=scene.team.officer, person=person, given_on=day, now=now
            ),
        }
        raised = together(doors[door], lambda number=number: scene.change(settling_days=100 + number))
        assert raised[1] is None
        assert raised[0] is None or isinstance(raised[0], Refused | DatabaseError)
        assert not Assignment.objects.filter(person=person).exists()
        stored = [row.as_interval() for row in person.clearances.filter(superseded_on__isnull=True)]
        fresh = Person.objects.select_related("site__rules").get(pk=person.pk)
        pending = ClearancePending.objects.filter(person=person).exists()
        assert pending or not covers(stored, scene.outing.date)
        assert pending or set(stored) == set(clearance_of(fresh).intervals)
        scene.change(settling_days=0)
        recompute_catch_up(now=now)


def test_moving_an_outing_during_a_recompute_takes_nobody_along_uncleared(scene: Scene) -> None:
    scene.change(settling_days=1)
    later = scene.outing.date + timedelta(days=5)
    assert outing_move(actor=scene.team.officer, outing=scene.outing, date=later, now=scene.now) == []
    assert Assignment.objects.get().person == scene.on
