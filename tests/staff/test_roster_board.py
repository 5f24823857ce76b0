"""The board of a team over some days, what is proposed for it, and why a place stays empty."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from staff.models import Assignment, DayWish, Person, SiteRules
from staff.rules.outing.rest_days import RestRules, misses_day_off
from staff.selectors.outing.roster_board import roster_board
from staff.selectors.outing.roster_proposal import propose_roster
from staff.services.outing.roster import roster_assign
from staff.services.outing.roster_rules import wish_add
from staff.services.record.holds import hold_place
from staff.services.record.recompute import recompute_catch_up
from tests.factories import Team, give_doses, make_person
from tests.staff.roster_scene import Field, make_field


@pytest.fixture
def field(team: Team, now: datetime) -> Field:
    return make_field(team, now)


def proposal(field: Field, days: int = 3):  # type: ignore[no-untyped-def]
    return propose_roster(roster_board(field.team.site, field.today, days), field.today)


def test_a_roster_is_proposed_of_cleared_people_alone(field: Field) -> None:
    found = proposal(field)
    assert len(found.plan.filled) == 6
    assert found.gaps == ()
    names = {field.people[name].pk for name in field.people}
    assert {place.person for place in found.plan.filled} == names


def test_an_empty_place_names_the_person_one_dose_short_and_the_date(field: Field) -> None:
    hold_place(
        actor=field.team.officer,
        person=field.people["catcher 1"],
        reason="waits for an answer",
        now=field.now,
        starts_on=field.today,
    )
    short = make_person(field.team.site, field.team.officer, field.now, number="short", name="One Short")
    give_doses(short, field.team.officer, field.now, 30, 23)
    gaps = proposal(field).gaps
    assert [(gap.role, gap.number) for gap in gaps] == [("catcher", 1), ("catcher", 1)]
    first = gaps[0].others[0]
    assert first.member.person == short
    assert "2 of 3" in first.words
    assert first.clear_from is not None
    held = next(why for why in gaps[0].others if why.member.person == field.people["catcher 1"])
    assert "waits for an answer" in held.words
    assert held.clear_from is None


def test_a_role_nobody_has_is_said_to_be_nobodys(field: Field) -> None:
    Person.objects.filter(pk=field.people["recorder 1"].pk).get().crew_roles.all().delete()
    gaps = proposal(field).gaps
    assert {(gap.role, gap.others) for gap in gaps} == {("recorder", ())}


def test_who_was_put_on_by_hand_stays_and_counts(field: Field) -> None:
    crew = field.crew_of(0)
    roster_assign(
        actor=field.team.officer,
        outing=crew.outing,
        crew=crew,
        person=field.people["catcher 1"],
        role="catcher",
        now=field.now,
    )
    found = proposal(field)
    assert ("catcher", field.day(1)) not in {(place.role, place.day) for place in found.plan.filled}
    assert Assignment.objects.count() == 1


@pytest.mark.parametrize(("kind", "filled"), [("cannot", 5), ("rather-not", 6)])
def test_a_day_off_is_kept_and_a_mere_wish_only_where_it_costs_nothing(
    kind: str, filled: int, field: Field
) -> None:
    wish_add(
        actor=field.team.officer,
        person=field.people["catcher 1"],
        kind=kind,
        first_on=field.day(1),
        last_on=None,
        now=field.now,
    )
    found = proposal(field)
    assert len(found.plan.filled) == filled
    if kind == "cannot":
        assert [why.words for gap in found.gaps for why in gap.others] == ["can't come that day"]


def test_the_last_word_about_a_day_counts(field: Field) -> None:
    for kind in ("cannot", "gladly"):
        wish_add(
            actor=field.team.officer,
            person=field.people["catcher 1"],
            kind=kind,
            first_on=field.today,
            last_on=field.day(4),
            now=field.now,
        )
    member = roster_board(field.team.site, field.today, 3).by_person[field.people["catcher 1"].pk]
    assert member.wish(field.day(1)) == DayWish.Kind.GLADLY


def test_the_rest_rule_leaves_a_stated_gap(field: Field) -> None:
    SiteRules.objects.filter(site=field.team.site).update(longest_run=1)
    field.team.site.refresh_from_db()
    found = proposal(field)
    assert len(found.plan.filled) == 3
    assert all("needs a day off" in why.words for gap in found.gaps for why in gap.others)


def test_nobody_is_proposed_for_a_day_that_is_over(team: Team, now: datetime) -> None:
    field = make_field(team, now, days=1)
    later = now + timedelta(days=2)
    found = propose_roster(roster_board(team.site, field.day(0), 4), team.site.local_date(later))
    assert found.plan.filled == ()


def test_who_leaves_the_team_is_offered_until_the_last_day(field: Field) -> None:
    person = field.people["catcher 1"]
    Person.objects.filter(pk=person.pk).update(active_until=field.day(1))
    recompute_catch_up(now=field.now)
    member = roster_board(field.team.site, field.today, 4).by_person[person.pk]
    assert [member.clear_on(field.day(number)) for number in (0, 1, 2)] == [True, True, False]


def test_the_board_costs_the_same_for_many(field: Field) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            roster_board(field.team.site, field.today, 14)
        return len(asked)

    few = queries()
    for number in range(8):
        more = make_person(field.team.site, field.team.officer, field.now, number=f"m{number}", name="More")
        give_doses(more, field.team.officer, field.now, 30, 23, 2)
    assert queries() == few


@pytest.mark.parametrize(
    ("days_out", "day", "broken"),
    [
        ((0, 1, 2, 3, 4, 5), 6, True),  # the seventh in a row
        ((0, 1, 2, 3, 4), 5, False),  # the sixth
        ((0, 1, 2, 3, 4, 5), 7, False),  # after one day off
        ((1, 2, 3, 4, 5, 6), 0, True),  # put before a longest run
        ((0, 1, 2, 4, 5, 6), 3, True),  # closing a gap
    ],
)
def test_a_seventh_day_in_a_row_takes_the_day_off_away(
    days_out: tuple[int, ...], day: int, broken: bool, field: Field
) -> None:
    out = {field.day(number) for number in (*days_out, day)}
    assert misses_day_off(out, field.day(day), RestRules(6, 1)) is broken
