"""What the preview of a change names is what the change does: over all coming outings, for rules and approvals alike."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from staff.models import Assignment, Regimen, SiteRules, Withdrawal
from staff.selectors.access import sites_of
from staff.selectors.site import consequences as one_function
from staff.selectors.site import rules_preview as rules_preview_module
from staff.selectors.site.consequences import Loss
from staff.selectors.site.rules_preview import DayPreview, approval_preview, rules_preview, withdrawn_by
from staff.services.outing.roster import roster_assign
from staff.services.record import recompute
from staff.services.record.recompute import recompute_catch_up
from staff.services.regimen.approvals import regimen_approve, regimen_withdraw
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


def standing() -> Pairs:
    return set(Assignment.objects.values_list("outing__date", "person_id"))


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


def approvals_at_random(dice: random.Random, team: Team, now: datetime) -> int:
    """Three approvals or withdrawals, one after the other; returns how many places they cost."""
    today, moves = team.site.local_date(now), 0
    for move in range(3):
        site = sites_of(team.officer).get()
        code = dice.choice((PRE_EXPOSURE, "prep-im-0-7", "prep-id-0-7-21"))
        regimen = Regimen.objects.get(code=code, version=1)
        approval = site.regimen_approvals.filter(regimen=regimen, withdrawn_at=None).first()
        at = now + timedelta(minutes=move)
        expected = foreseen(approval_preview(site, regimen, today, approved=approval is None))
        before = standing()
        if approval is None:
            regimen_approve(
                actor=team.officer,
                regimen=regimen,
                site=site,
                authority="Health office",
                approved_on=today,
                document="letter 4",
                now=at,
            )
        else:
            regimen_withdraw(actor=team.officer, approval=approval, why="letter 3", now=at)
        recompute_catch_up(now=at)
        assert done(at) == expected == before - standing()
        moves += len(expected)
    return moves


@pytest.mark.parametrize("seed", range(4))
def test_an_approval_or_its_withdrawal_withdraws_whom_its_preview_named(
    seed: int, team: Team, now: datetime, rostered: int
) -> None:
    """Random versions given and taken in turn, by random rules; whoever goes is named, and nobody else goes."""
    dice, withdrawn = random.Random(seed), 0
    for _history in range(4):
        with transaction.atomic():
            SiteRules.objects.filter(site=team.site).update(
                doses_required=dice.choice((2, 3)), mixed_routes=dice.random() < 0.5
            )
            withdrawn += approvals_at_random(dice, team, now)
            transaction.set_rollback(True)
    assert withdrawn


@pytest.mark.parametrize("side", ["preview", "change"])
def test_preview_and_change_ask_the_one_function(
    side: str, team: Team, now: datetime, rostered: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it leaves out neither names; so they can't differ."""
    honest = one_function.consequences
    where = {"preview": rules_preview_module, "change": recompute}[side]
    asked = []

    def spied(*about: Any) -> list[Loss]:
        asked.append(honest(*about))
        return asked[-1]

    monkeypatch.setattr(where, "consequences", spied)
    site, today = sites_of(team.officer).get(), team.site.local_date(now)
    named = foreseen(rules_preview(site, {"doses_required": 5}, today))
    rules = SiteRules.objects.get(site=site)
    site_rules_change(
        actor=team.officer, rules=rules, changes={"doses_required": 5}, reason="letter 2", now=now
    )
    (losses,) = asked
    assert {(loss.assignment.outing.date, loss.assignment.person_id) for loss in losses} == named == done(now)
    assert len(named) == rostered


def test_the_page_after_an_approval_ends_names_who_was_taken_off_what(
    team: Team, now: datetime, rostered: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)
    approval = team.site.regimen_approvals.get(regimen__code=PRE_EXPOSURE)
    where = reverse("approval-withdraw", args=[approval.pk])
    said = {"why": "letter 3", "confirmed": "1", "previewed": team.site.code}
    page = signed_in_as(team.officer).post(where, said, follow=True)
    assert len(page.context["withdrawn"]) == rostered
    assert page.content.decode().count("Person 0") == OUTINGS


def test_the_page_of_a_change_names_who_was_taken_off_what(team: Team, now: datetime, rostered: int) -> None:
    rules = SiteRules.objects.get(site=team.site)
    change = site_rules_change(
        actor=team.officer, rules=rules, changes={"doses_required": 5}, reason="letter 2", now=now
    )
    page = signed_in_as(team.officer).get(reverse("rules-change", args=[team.site.code, change.pk]))
    assert len(page.context["withdrawn"]) == rostered > OUTINGS
    assert page.content.decode().count("Person 0") == OUTINGS
