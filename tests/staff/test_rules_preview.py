"""What the preview of a change names is what the change does: over all coming outings, for rules and approvals alike."""

from __future__ import annotations

import random
from datetime import datetime

import pytest
from django.db import transaction
from django.urls import reverse

from staff.models import Assignment, Regimen, SiteRules, Withdrawal
from staff.selectors.access import sites_of
from staff.selectors.site.rules_preview import DayPreview, approval_preview, rules_preview, withdrawn_by
from staff.services.outing.roster import roster_assign
from staff.services.record.recompute import recompute_catch_up
from staff.services.regimen.approvals import regimen_withdraw
from staff.services.site.site_rules import site_rules_change
from tests.factories import PRE_EXPOSURE, Team, give_doses, make_outing, make_person
from tests.staff.pages.scenes import signed_in_as

pytestmark = pytest.mark.django_db
OUTINGS = 18
HISTORIES = ((60, 53, 39), (400, 393, 379), (1200, 1193, 1179), (30, 23, 2), (900, 893, 879, 500))
Pairs = set[tuple[object, int]]


@pytest.fixture
def rostered(team: Team, now: datetime) -> int:
    """Eighteen coming outings; people of different histories on as many of them as they are clear for."""
    people = [
        make_person(team.site, team.officer, now, number=str(20 + n), name=f"Person {n}")
        for n in range(len(HISTORIES))
    ]
    for person, days in zip(people, HISTORIES, strict=True):
        give_doses(person, team.officer, now, *days)
    for ahead in range(1, OUTINGS + 1):
        outing, crew = make_outing(team.site, team.officer, now, ahead * 9)
        for person in people:
            roster_assign(
                actor=team.officer, outing=outing, crew=crew, person=person, role="catcher", now=now
            )
    return Assignment.objects.count()


def foreseen(days: list[DayPreview]) -> Pairs:
    return {(day.on, person.pk) for day in days for person in day.withdrawn}


def done(now: datetime) -> Pairs:
    return set(Withdrawal.objects.filter(withdrawn_at=now).values_list("outing__date", "person_id"))


def some_change(dice: random.Random, rules: SiteRules) -> dict[str, object]:
    """Up to three figures, at least one of them another than it is."""
    every: dict[str, object] = {
        "doses_required": dice.randint(1, 5),
        "settling_days": dice.choice([0, 3, 14, 60]),
        "recheck_months": dice.choice([0, 6, 12, 24, 36]),
        "recheck_once": dice.random() < 0.5,
        "lapse_blocks": dice.random() < 0.8,
        "briefing_months": dice.choice([None, 0, 12]),
    }
    other = [name for name in sorted(every) if every[name] != getattr(rules, name)]
    return {name: every[name] for name in dice.sample(other, min(len(other), dice.randint(1, 3)))}


@pytest.mark.parametrize("seed", range(4))
def test_a_change_withdraws_whom_its_preview_named(
    seed: int, team: Team, now: datetime, rostered: int
) -> None:
    dice, today = random.Random(seed), team.site.local_date(now)
    withdrawn = 0
    for _change in range(10):
        changes = some_change(dice, SiteRules.objects.get(site=team.site))
        if not changes:
            continue
        with transaction.atomic():
            site = sites_of(team.officer).get()
            expected = foreseen(rules_preview(site, changes, today))
            rules = SiteRules.objects.get(site=site)
            change = site_rules_change(
                actor=team.officer, rules=rules, changes=changes, reason="letter 2", now=now
            )
            recompute_catch_up(now=now)
            assert done(now) == expected
            assert {(row.outing.date, row.person_id) for row in withdrawn_by(change)} == expected
            assert Assignment.objects.count() == rostered - len(expected)
            withdrawn += len(expected)
            transaction.set_rollback(True)
    assert withdrawn


def test_withdrawing_an_approval_withdraws_whom_its_preview_named(
    team: Team, now: datetime, rostered: int
) -> None:
    site = sites_of(team.officer).get()
    regimen = Regimen.objects.get(code=PRE_EXPOSURE, version=1)
    expected = foreseen(approval_preview(site, regimen, team.site.local_date(now), approved=False))
    approval = site.regimen_approvals.get(regimen=regimen)
    regimen_withdraw(actor=team.officer, approval=approval, why="letter 3", now=now)
    assert done(now) == expected and len(expected) == rostered


def test_the_page_of_a_change_names_who_was_taken_off_what(team: Team, now: datetime, rostered: int) -> None:
    rules = SiteRules.objects.get(site=team.site)
    change = site_rules_change(
        actor=team.officer, rules=rules, changes={"doses_required": 5}, reason="letter 2", now=now
    )
    page = signed_in_as(team.officer).get(reverse("rules-change", args=[team.site.code, change.pk]))
    assert len(page.context["withdrawn"]) == rostered > OUTINGS
    assert page.content.decode().count("Person 0") == OUTINGS
