"""While a crew is out: what may be changed about it and its outing, and how pages and proposals show it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from safety.services.crew_day.crew_roll import Absent, Roll
from safety.services.crew_day.departure_voids import departure_void
from staff.ground.errors import Conflict, NotCleared, Refused
from staff.models import ClearancePending, Crew, Hold, SiteRules, Withdrawal
from staff.selectors.outing.roster import crews_of, outing_list
from staff.selectors.outing.roster_board import roster_board
from staff.selectors.outing.roster_proposal import propose_roster
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.record.holds import hold_place
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def left_short(day: Day) -> None:
    """The crew leaves without its catcher."""
    roll = Roll(day.here(day.people["catcher"]), (Absent(day.people["catcher"].pk, "ill"),))
    day.leave(roll=roll, missing_reason="nobody else was free")


def put_on(day: Day, crew: Crew) -> None:
    roster_assign(
        actor=day.team.officer, outing=day.outing, crew=crew, person=day.spare, role="catcher", now=day.now
    )


def test_the_outing_of_a_crew_that_left_is_neither_moved_nor_cancelled(day: Day) -> None:
    day.leave()
    with pytest.raises(Conflict, match="void") as moved:
        outing_move(actor=day.team.officer, outing=day.outing, date=day.outing.date + DAY, now=day.now + HOUR)
    with pytest.raises(Conflict, match="record its return") as cancelled:
        outing_cancel(actor=day.team.officer, outing=day.outing, reason="storm", now=day.now + HOUR)
    assert moved.value.code == cancelled.value.code == "crew-left"
    assert day.crew.assignments.count() == 4


def test_once_the_leaving_is_voided_the_outing_moves_and_its_places_are_open_again(day: Day) -> None:
    departure = day.leave()
    departure_void(actor=day.head, departure=departure, reason="wrong crew", now=day.now + HOUR)
    assert Crew.objects.get(pk=day.crew.pk).left_at is None
    outing_move(actor=day.team.officer, outing=day.outing, date=day.outing.date + DAY, now=day.now + HOUR)
    day.leave(now=day.now + DAY)


def test_the_roster_of_a_crew_that_left_is_not_changed_by_hand(day: Day) -> None:
    day.leave()
    with pytest.raises(Conflict, match="came back, or void the leaving"):
        put_on(day, day.crew)
    with pytest.raises(Conflict) as refused:
        row = day.crew.assignments.get(person=day.people["catcher"])
        roster_withdraw(actor=day.team.officer, assignment=row, reason="ill", now=day.now + HOUR)
    assert refused.value.code == "crew-left"


def test_another_crew_of_the_outing_that_is_still_here_takes_people(day: Day) -> None:
    other = Crew.objects.create(outing=day.outing, name="Crew 2")
    day.leave()
    put_on(day, other)
    assert other.assignments.count() == 1


def test_a_rule_still_takes_somebody_off_a_crew_that_left(day: Day) -> None:
    day.leave()
    person = day.people["catcher"]
    hold_place(
        actor=day.team.officer, person=person, reason="bitten", now=day.now + HOUR, starts_on=day.outing.date
    )
    assert Withdrawal.objects.get(person=person).by_rule


def test_the_places_a_crew_left_without_are_not_open_any_more(day: Day) -> None:
    other = Crew.objects.create(outing=day.outing, name="Crew 2")
    left_short(day)
    board = roster_board(day.team.site, day.outing.date, 1)
    assert {row.crew.pk: bool(row.lacks) for row in board.crews} == {day.crew.pk: False, other.pk: True}
    found = propose_roster(board, day.outing.date)
    assert {place.crew for place in found.plan.filled} <= {other.pk}
    assert {gap.crew.crew.pk for gap in found.gaps} <= {other.pk}
    views = {view.crew.pk: view.missing for view in crews_of(day.outing)}
    assert not views[day.crew.pk]
    assert views[other.pk]


def test_the_list_says_of_an_outing_that_it_left_once_every_crew_has(day: Day) -> None:
    other = Crew.objects.create(outing=day.outing, name="Crew 2")
    left_short(day)
    some = outing_list(type(day.outing).objects.all(), day.now)
    assert day.outing.pk in some.short
    assert day.outing.pk not in some.left
    other.delete()
    every = outing_list(type(day.outing).objects.all(), day.now)
    assert day.outing.pk in every.left
    assert day.outing.pk not in every.short


def test_grid_and_outing_page_show_that_a_crew_left(day: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: day.now)
    left_short(day)
    client = Client()
    client.force_login(day.team.officer)
    shown = client.get(f"/roster/?site={day.team.site.pk}&first={day.outing.date}&days=1")
    # As a reader sees it: a line's end in the page's source is a blank.
    grid = " ".join(shown.content.decode().split())
    assert "→ left" in grid
    assert "data-seat" not in grid
    page = client.get(f"/outings/{day.outing.pk}/").content.decode()
    assert "still needed" not in page
    assert "Take off" not in page
    assert 'id="assign"' not in page
    assert "→</span> left" in " ".join(client.get("/outings/").content.decode().split())


def test_who_fell_off_by_a_waiting_recompute_is_off_the_roster_after_the_refusal(day: Day) -> None:
    """The lead reads the roster again and can leave without that person."""
    person = day.people["catcher"]
    Hold.objects.create(
        person=person, starts_on=day.outing.date, reason="scan", placed_by=day.team.officer, placed_at=day.now
    )
    with pytest.raises(Refused) as refused:
        day.leave()
    assert refused.value.code == "crew-changed"
    assert not day.crew.assignments.filter(person=person).exists()
    day.leave(roll=Roll(day.here(person)), missing_reason="nobody else was free")


def test_who_is_not_clear_by_the_record_does_not_leave_whatever_the_roster_rests_on(day: Day) -> None:
    """Raw changes of a site's rules mark nobody; a lead learns who, and not why."""
    SiteRules.objects.filter(site=day.team.site).update(settling_days=90)
    ClearancePending.objects.all().delete()
    with pytest.raises(NotCleared) as refused:
        day.leave()
    assert not refused.value.reasons
    assert Crew.objects.get(pk=day.crew.pk).left_at is None
