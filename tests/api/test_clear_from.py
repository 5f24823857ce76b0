"""Every door names the same date from which somebody is clear, in the same words."""

from __future__ import annotations

import html
import random
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from staff.ground.errors import NotCleared, Refused
from staff.models import Person, SiteRules
from staff.selectors.record.clear_from import clear_from
from staff.selectors.record.readiness import readiness_of
from staff.services.outing.roster import roster_assign
from staff.services.record.briefings import briefing_record
from staff.services.record.holds import hold_place
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from staff.services.site.site_rules import site_rules_change
from tests.api.conftest import Clients
from tests.factories import Team, make_outing, make_person

pytestmark = pytest.mark.django_db


def _live(chance: random.Random, team: Team, person: Person, now: datetime) -> None:
    """A history entered through the services; what they refuse isn't part of it."""
    today = team.site.local_date(now)

    def ago(most: int) -> date:
        return today - timedelta(days=chance.randrange(most))

    entries: list[tuple[Any, dict[str, Any]]] = [
        (dose_record, {"given_on": ago(chance.choice((30, 900))), "route": "IM"})
        for _each in range(chance.randrange(5))
    ]
    if chance.random() < 0.6:
        entries.append((briefing_record, {"held_on": ago(500)}))
    if chance.random() < 0.3:
        entries.append(
            (titre_record, {"taken_on": ago(300), "iu_per_ml": Decimal(chance.choice(("0.4", "1")))})
        )
    if chance.random() < 0.3:
        entries.append((hold_place, {"starts_on": today, "reason": "rest"}))
    for act, facts in entries:
        try:
            act(actor=team.officer, person=person, now=now, **facts)
        except Refused:
            continue


def _cell(client: Client, address: str, words: str) -> bool:
    return words in html.unescape(client.get(address).content.decode())


@pytest.mark.parametrize("seed", range(6))
def test_all_doors_agree_over_random_histories(seed: int, team: Team, keyed: Clients, now: datetime) -> None:
    chance = random.Random(seed)
    changes = {"recheck_months": chance.choice((0, 6)), "briefing_months": chance.choice((None, 1, 12))}
    rules = SiteRules.objects.get(site=team.site)
    if any(getattr(rules, name) != value for name, value in changes.items()):
        site_rules_change(actor=team.officer, rules=rules, changes=changes, reason="r", now=now)
        recompute_catch_up(now=now)
    outing, crew = make_outing(team.site, team.officer, now, days_ahead=chance.choice((0, 3, 40)))
    today = team.site.local_date(now)
    officer, api = Client(), keyed(team.officer)
    officer.force_login(team.officer)
    for number in range(4):
        person = make_person(team.site, team.officer, now, number=f"d{number}")
        _live(chance, team, person, now)
        person = Person.objects.select_related("site__rules").get(pk=person.pk)
        row = readiness_of(person, outing.date)
        ahead = clear_from([row], today)[0]
        on = {"on": outing.date.isoformat()}
        listed = next(one for one in api.get("/api/v1/clearance/", on).json() if one["person"] == person.pk)
        told = ahead.on.isoformat() if ahead.on else None
        assert (listed["clear_from"], listed["clear_from_words"]) == (told, ahead.words)
        explained = api.get(f"/api/v1/people/{person.pk}/clearance/", on).json()
        assert (explained["earliest_clear_on"], explained["earliest_clear_words"]) == (told, ahead.words)
        assert _cell(officer, f"{reverse('readiness')}?on={on['on']}", ahead.words)
        assert _cell(officer, f"{reverse('person-clearance', args=[person.pk])}?on={on['on']}", ahead.lead)
        assert row.clear == (ahead.on == outing.date and not ahead.way.actions)
        asked = {"person": person.pk, "crew": crew.pk, "role": "catcher"}
        if row.clear:
            continue
        assert _cell(officer, reverse("outing", args=[outing.pk]), ahead.words)
        with pytest.raises(NotCleared) as refused:
            roster_assign(
                actor=team.officer, outing=outing, crew=crew, person=person, role="catcher", now=now
            )
        assert refused.value.clear_from == ahead.on
        answer = api.post(f"/api/v1/outings/{outing.pk}/assignments/", asked, format="json")
        assert answer.status_code == 409
        assert ahead.words in answer.json()["message"] and ahead.words in answer.json()["fields"]["person"]
        page = officer.post(reverse("outing-assign", args=[outing.pk]), asked)
        assert page.status_code == 409 and ahead.words in html.unescape(page.content.decode())


def test_the_own_page_names_what_the_board_names(team: Team, now: datetime) -> None:
    today = team.site.local_date(now)
    for days in (20, 13):
        dose_record(actor=team.officer, person=team.person, given_on=today - timedelta(days=days), now=now)
    ahead = clear_from([readiness_of(team.person, today)], today)[0]
    assert ahead.on == today + timedelta(days=1)
    client = Client()
    client.force_login(team.member)
    assert _cell(client, reverse("me"), ahead.words)


def test_whoever_waits_for_a_recompute_gets_no_date(team: Team, now: datetime) -> None:
    today = team.site.local_date(now)
    for days in (60, 53, 39):
        dose_record(actor=team.officer, person=team.person, given_on=today - timedelta(days=days), now=now)
    for days in (100, 0):
        recompute_catch_up(now=now)
        rules = SiteRules.objects.get(site=team.site)
        site_rules_change(
            actor=team.officer, rules=rules, changes={"settling_days": days}, reason="r", now=now
        )
    ahead = clear_from([readiness_of(team.person, today)], today)[0]
    assert (ahead.on, ahead.words) == (None, "No date until the clearance is recomputed.")
