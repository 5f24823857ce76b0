"""Every reader gives one answer to whether somebody is clear on a date, and a person who waits is clear nowhere."""

from __future__ import annotations

import html
import random
import re
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from safety.selectors.crew_day.outing_day import offered_people
from staff.ground.errors import Refused
from staff.models import Assignment, Clearance, ClearancePending, Crew, CrewRole, Outing, Person, Site
from staff.selectors.campaign.campaigns import Prospect, members_outlook
from staff.selectors.campaign.field_plan import AreaDay, DayState, FieldPlan, people_by_day
from staff.selectors.outing.roster_board import roster_board
from staff.selectors.outing.roster_proposal import propose_roster
from staff.selectors.record.explained import clearance_explained
from staff.selectors.record.readiness import clear_dates, clearance_on, readiness
from staff.selectors.record.record_sheet import record_sheet
from staff.services.outing.outings import outing_move
from staff.services.record.holds import hold_place
from staff.services.record.letters import immunocompromised_set
from staff.services.record.people import person_update
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from tests.factories import Team, make_outing, make_person
from tests.staff.field_scenes import area_of
from tests.staff.planning.scenes import make_campaign

pytestmark = pytest.mark.django_db
DAYS = (0, 3, 9)


@dataclass(frozen=True)
class Scene:
    team: Team
    people: list[Person]
    outings: dict[date, Outing]
    now: datetime

    @property
    def sites(self) -> list[Site]:
        return [self.team.site, self.team.other_site]

    def of(self, site: Site) -> list[Person]:
        return [person for person in self.people if person.site_id == site.pk]


def _live(chance: random.Random, team: Team, person: Person, now: datetime) -> None:
    """A history through the services, then perhaps a record that changed past them: its triggers mark the person."""
    today = person.site.local_date(now)
    days = chance.choice(
        ((50, 43, 20), (50, 43, 20), (50, 43, 20), (30, 23, 0), (800, 790, 770), (20, 13), ())
    )
    acts: list[tuple[Any, dict[str, Any]]] = [
        (dose_record, {"given_on": today - timedelta(days=ago), "route": "IM"}) for ago in days
    ]
    if chance.random() < 0.2:
        acts.append((hold_place, {"starts_on": today + timedelta(days=chance.randrange(5)), "reason": "ill"}))
    if chance.random() < 0.2:
        acts.append((person_update, {"active_until": today + timedelta(days=chance.randrange(-2, 8))}))
    if chance.random() < 0.1:
        acts.append((titre_record, {"taken_on": today, "iu_per_ml": Decimal("0.3")}))
    if chance.random() < 0.1:
        acts.append((immunocompromised_set, {"immunocompromised": True, "reason": "told"}))
    officer = team.officer if person.site_id == team.site.pk else team.stranger
    for act, facts in acts:
        try:
            act(actor=officer, person=person, now=now, **facts)
        except Refused:
            continue
    if chance.random() < 0.3:
        ClearancePending.objects.create(person=person)
    elif chance.random() < 0.2:
        with connection.cursor() as cursor:
            cursor.execute(
                "UPDATE staff_person SET active_from = %s WHERE id = %s",
                [today - timedelta(days=300), person.pk],
            )


@pytest.fixture
def scene(
    request: pytest.FixtureRequest, team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> Scene:
    monkeypatch.setattr(timezone, "now", lambda: now)
    chance = random.Random(request.param)
    people = []
    for number in range(12):
        site, by = (team.site, team.officer) if number % 4 else (team.other_site, team.stranger)
        person = make_person(site, by, now, number=f"c{number}", name=f"Person {number:02}")
        _live(chance, team, person, now)
        people.append(Person.objects.select_related("site__rules").get(pk=person.pk))
    outings = [make_outing(team.site, team.officer, now, days_ahead=days)[0] for days in DAYS]
    return Scene(team, people, {outing.date: outing for outing in outings}, now)


def by_function(scene: Scene, day: date) -> set[int]:
    found = [row for site in scene.sites for row in readiness(site.people.all(), day, [site])]
    return {row.person.pk for row in found if row.clear}


def by_dates(scene: Scene, day: date) -> set[int]:
    found = [one for site in scene.sites for one in clear_dates(site.people.all(), [site])]
    assert all(one.clear_on(day) == (one.on(day).words == ()) for one in found)
    return {one.person.pk for one in found if one.clear_on(day)}


def by_cover(scene: Scene, day: date) -> set[int]:
    return {person.pk for person in scene.people if clearance_on(person, day)}


def by_record_page(scene: Scene, day: date) -> set[int]:
    """The dates the person's page lists and draws."""
    shown = [record_sheet(person, scene.team.site.local_date(scene.now)) for person in scene.people]
    spans = {one.person.pk: one.intervals for one in shown}
    return {
        key
        for key, rows in spans.items()
        if any(row.starts_on <= day and (row.ends_on is None or day <= row.ends_on) for row in rows)
    }


def by_explained(scene: Scene, day: date) -> set[int]:
    today = scene.team.site.local_date(scene.now)
    found = [clearance_explained(person, on=day, today=today) for person in scene.people]
    assert all(one.clear == (one.stored and not one.readiness.reasons) for one in found)
    assert all((one.clear_on == day and not one.steps) or not one.clear for one in found)
    return {one.person.pk for one in found if one.clear}


def by_api(scene: Scene, day: date) -> set[int]:
    found = set()
    for user in (scene.team.officer, scene.team.stranger):
        client = APIClient()
        client.force_authenticate(user)
        answer = client.get("/api/v1/clearance/", {"on": day.isoformat()}).json()
        found |= {row["person"] for row in answer if row["cleared"]}
        asked = [(one, f"/api/v1/people/{one['person']}/clearance/") for one in answer]
        each = [(one, client.get(address, {"on": day.isoformat()}).json()) for one, address in asked]
        assert all(one["cleared"] == told["cleared"] for one, told in each)
    return found


def _marks(page: str, people: list[Person]) -> set[int]:
    """People in whose row the page's mark says clear."""
    rows = re.findall(r"<tr.*?</tr>", html.unescape(page), flags=re.DOTALL)
    return {
        person.pk for person in people for row in rows if person.name in row and 'class="state clear"' in row
    }


def by_board_page(scene: Scene, day: date) -> set[int]:
    found = set()
    for site, user in ((scene.team.site, scene.team.officer), (scene.team.other_site, scene.team.stranger)):
        client = Client()
        client.force_login(user)
        asked = {"on": day.isoformat(), "site": site.pk}
        for state in ("", "left"):
            page = client.get(reverse("readiness"), {**asked, "state": state})
            assert page.status_code == 200
            clear = _marks(page.content.decode(), scene.of(site))
            assert page.context["clear"] == len(clear)
            found |= clear
    return found


def by_grid(scene: Scene, day: date) -> set[int]:
    found = set()
    for site in scene.sites:
        board = roster_board(site, day, 1)
        found |= {one.person.pk for one in board.team if one.clear_on(day)}
        assert all(one.clear_on(day) == one.readiness(day).clear for one in board.team)
        assert all(one.clear_on(day) == (one.cover_on(day) is not None) for one in board.team)
    return found


EVERYWHERE = (
    by_function, by_dates, by_cover, by_record_page, by_explained, by_api, by_board_page, by_grid
)  # fmt: skip


def by_crew_offer(scene: Scene, day: date) -> set[int]:
    return {person.pk for person in offered_people(scene.outings[day])}


def by_grid_page(scene: Scene, day: date) -> set[int]:
    client = Client()
    client.force_login(scene.team.officer)
    asked = {"site": scene.team.site.pk, "first": day.isoformat(), "days": 1}
    page = client.get(reverse("roster-grid"), asked)
    cells = {member.person.pk: cells[0] for member, _roles, cells in page.context["rows"]}
    return {key for key, cell in cells.items() if cell.state == "free"}


def by_outing_page(scene: Scene, day: date) -> set[int]:
    client = Client()
    client.force_login(scene.team.officer)
    page = client.get(reverse("outing", args=[scene.outings[day].pk]))
    offered = {person.pk for person in page.context["offered"]}
    refused = {row.person.pk for row, _ahead in page.context["refused"]}
    assert offered.isdisjoint(refused)
    return offered


def by_proposal(scene: Scene, day: date) -> set[int]:
    """Whom a proposal puts on, each proposed for alone; of the others it says why not."""
    board = roster_board(scene.team.site, day, 1)
    found, today = set(), scene.team.site.local_date(scene.now)
    for member in board.team:
        told = propose_roster(replace(board, team=(member,)), today)
        if told.plan.filled:
            found.add(member.person.pk)
        else:
            assert not any(why.clear for gap in told.gaps for why in gap.others)
    return found


def by_guard(scene: Scene, day: date) -> set[int]:
    """Whom the database lets onto the outing by any of the stored clearances, past every service."""
    outing = scene.outings[day]
    found = set()
    for person in scene.of(scene.team.site):
        for cover in Clearance.objects.filter(person=person, superseded_on__isnull=True):
            row = Assignment(
                outing=outing,
                crew=outing.crews.get(),
                person=person,
                role=CrewRole.CATCHER,
                clearance=cover,
                assigned_by=scene.team.officer,
                assigned_at=scene.now,
            )
            try:
                with transaction.atomic():
                    Assignment.objects.bulk_create([row])
            except DatabaseError:
                continue
            found.add(person.pk)
            Assignment.objects.filter(person=person).delete()
    return found


AT_THE_SITE = (by_crew_offer, by_grid_page, by_outing_page, by_proposal, by_guard)


@pytest.mark.parametrize("scene", range(5), indirect=True)
def test_every_reader_says_the_same(scene: Scene) -> None:
    waiting = set(ClearancePending.objects.values_list("person", flat=True))
    for day in scene.outings:
        clear = by_function(scene, day)
        assert clear.isdisjoint(waiting)
        for reader in EVERYWHERE:
            assert reader(scene, day) & {one.pk for one in scene.people} == clear, (reader.__name__, day)
        here = clear & {person.pk for person in scene.of(scene.team.site)}
        for reader in AT_THE_SITE:
            assert reader(scene, day) - {scene.team.person.pk} == here, (reader.__name__, day)


@pytest.mark.parametrize("scene", range(3), indirect=True)
def test_counts_and_campaigns_say_the_same(scene: Scene) -> None:
    team, now = scene.team, scene.now
    campaign = make_campaign(team, now, days_ahead=9, people=scene.of(team.site))
    clear = by_function(scene, campaign.starts_on) & {person.pk for person in scene.of(team.site)}
    rows = members_outlook(campaign, team.site.local_date(now))
    assert {row.person.pk for row in rows if row.prospect is Prospect.READY} == clear
    waiting = set(ClearancePending.objects.values_list("person", flat=True))
    assert {row.person.pk for row in rows if row.prospect is Prospect.RECOMPUTE} <= waiting
    area = area_of(team, campaign, now)
    plan = FieldPlan(tuple(AreaDay(area, day, 1, 0, 0, DayState.NEW) for day in scene.outings), ())
    for day, (_needed, number) in people_by_day(plan, team.site).items():
        assert number == len(by_function(scene, day) & set(team.site.people.values_list("pk", flat=True)))


@pytest.mark.parametrize("scene", range(3), indirect=True)
def test_a_move_takes_off_exactly_who_is_not_clear_on_the_new_date(scene: Scene) -> None:
    first, last = min(scene.outings), max(scene.outings) + timedelta(days=1)
    on = by_guard(scene, first)
    outing = scene.outings[first]
    crew = Crew.objects.get(outing=outing)
    for person in scene.of(scene.team.site):
        if person.pk in on:
            cover = clearance_on(person, first)
            row = Assignment(outing=outing, crew=crew, person=person, role="catcher", clearance=cover)
            row.assigned_by, row.assigned_at = scene.team.officer, scene.now
            row.save()
    then = by_function(scene, last)
    outing_move(actor=scene.team.officer, outing=outing, date=last, now=scene.now)
    assert set(outing.assignments.values_list("person", flat=True)) == on & then
