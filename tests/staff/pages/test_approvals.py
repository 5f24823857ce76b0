"""An approval or its withdrawal is previewed: who gains, who loses, and why it is done when somebody loses."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse

from staff.models import Person, Regimen, RegimenApproval, RulesChange, User
from staff.selectors.record.readiness import readiness_of
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record
from staff.services.regimen.regimen_drafts import RegimenFacts, regimen_start, regimen_submit
from staff.services.site.site_rules import site_rules_change
from tests.factories import PRE_EXPOSURE, Team, make_person
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as
from tests.staff.regimen_scenes import approve_by, second_officer

pytestmark = pytest.mark.django_db
DATA = {"authority": "Office", "approved_on": "2026-01-01", "document": "letter 2"}


def _two_doses_suffice(team: Team) -> None:
    rules = team.site.rules
    site_rules_change(
        actor=team.officer, rules=rules, changes={"doses_required": 2}, reason="r", now=real_now()
    )
    recompute_catch_up(now=real_now())
    today = team.site.local_date(real_now())
    for days in (30, 23):
        dose_record(
            actor=team.officer, person=team.person, given_on=today - timedelta(days=days), now=real_now()
        )


def test_an_approval_shows_who_would_gain_before_anything_is_kept(team: Team) -> None:
    _two_doses_suffice(team)
    url, data = reverse("regimen-approve", args=["prep-im-0-7", 1]), DATA | {"site": team.site.pk}
    officer = signed_in_as(team.officer)
    shown = officer.post(url, data)
    assert shown.status_code == 200
    assert [person.pk for person in shown.context["days"][0].gain] == [team.person.pk]
    assert not shown.context["loses"] and 'name="reason"' not in shown.content.decode()
    assert not RegimenApproval.objects.filter(regimen__code="prep-im-0-7").exists()
    other = officer.post(url, data | {"confirmed": "1", "previewed": "another-site"})
    assert other.status_code == 200, "only what was shown is done"
    assert officer.post(url, data | {"confirmed": "1", "previewed": team.site.code}).status_code == 302
    change = RulesChange.objects.get(changes__has_key="regimen")
    assert change.reason == "letter 2"
    page = officer.get(reverse("rules-change", args=[team.site.code, change.pk])).content.decode()
    assert "Approved regimen" in page and "prep-im-0-7 v1" in page and "not approved" in page


def _mixed_series(team: Team) -> Person:
    """Muscle, skin, muscle: clear by the muscle regimen, where a change of route is accepted, with the injections
    that the skin regimen asks. That one's own last gap is longer, so by it the record isn't complete."""
    now = real_now()
    facts = RegimenFacts.of(_skin())
    last = replace(facts.steps[2], day=35, latest_day=35, smallest_gap=28)
    _approved(team, "skin-long", replace(facts, steps=(*facts.steps[:2], last)))
    site_rules_change(
        actor=team.officer, rules=team.site.rules, changes={"mixed_routes": True}, reason="r", now=now
    )
    today, asked = team.site.local_date(now), _skin().steps.get(number=2).injections
    for days, route, injections in ((60, "IM", 1), (53, "ID", asked), (39, "IM", 1)):
        dose_record(
            actor=team.officer,
            person=team.person,
            given_on=today - timedelta(days=days),
            route=route,
            injections=injections,
            now=now,
        )
    recompute_catch_up(now=now)
    return team.person


def _submitted(team: Team, code: str, facts: RegimenFacts) -> Regimen:
    row = regimen_start(actor=team.officer, code=code, facts=facts, now=real_now())
    regimen_submit(actor=team.officer, regimen=row, now=real_now())
    return row


def _approved(team: Team, code: str, facts: RegimenFacts) -> None:
    approve_by(second_officer(team), team, _submitted(team, code, facts), real_now())


def _skin() -> Regimen:
    return Regimen.objects.get(code="prep-id-0-7-21", version=1)


def test_an_approval_by_which_somebody_loses_clearance_asks_why(team: Team) -> None:
    """Another skin regimen of as many visits asks one injection more: the most of them is what a change of route
    needs (decided in staff.rules.record.mixed)."""
    person, facts, now = _mixed_series(team), RegimenFacts.of(_skin()), real_now()
    more = tuple(replace(step, injections=step.injections + 1) for step in facts.steps)
    row = _submitted(team, "skin-more", replace(facts, steps=more))
    second = User.objects.get(username="second")
    url, client = reverse("regimen-approve", args=["skin-more", 1]), signed_in_as(second)
    shown = client.post(url, DATA | {"site": team.site.pk})
    assert [one.pk for one in shown.context["days"][0].lose] == [person.pk]
    assert 'name="reason"' in shown.content.decode()
    data = DATA | {"site": team.site.pk, "confirmed": "1", "previewed": team.site.code}
    silent = client.post(url, data | {"reason": " "})
    assert silent.status_code == 400
    assert 'href="#id_reason"' in silent.content.decode()
    assert not RegimenApproval.objects.filter(regimen=row).exists()
    assert client.post(url, data | {"reason": "letter 2 says so"}).status_code == 302
    assert RulesChange.objects.get(changes__regimen__new="skin-more v1").reason == "letter 2 says so"
    recompute_catch_up(now=now)
    assert not readiness_of(person, team.site.local_date(now)).clear


def test_a_withdrawal_shows_who_would_lose_and_keeps_the_reason(team: Team) -> None:
    person = clear_person(team)
    approval = RegimenApproval.objects.get(site=team.site, regimen__code=PRE_EXPOSURE)
    url, officer = reverse("approval-withdraw", args=[approval.pk]), signed_in_as(team.officer)
    shown = officer.post(url, {"why": "recalled"})
    assert shown.status_code == 200 and shown.context["loses"]
    assert [one.pk for one in shown.context["days"][0].lose] == [person.pk]
    approval.refresh_from_db()
    assert approval.withdrawn_at is None
    data = {"why": "recalled", "confirmed": "1", "previewed": team.site.code}
    assert officer.post(url, data).status_code == 302
    change = RulesChange.objects.get()
    assert (change.reason, change.changes) == (
        "recalled",
        {"regimen": {"old": "prep-im-0-7-21 v1", "new": None}},
    )


def test_what_no_clearance_rests_on_is_done_at_once(team: Team) -> None:
    approval = RegimenApproval.objects.get(site=team.site, regimen=team.post_exposure)
    url = reverse("approval-withdraw", args=[approval.pk])
    make_person(team.site, team.officer, real_now(), number="2")
    assert signed_in_as(team.officer).post(url, {"why": "replaced"}).status_code == 302
    change = RulesChange.objects.get()
    assert change.finished_at is not None and change.total == 0
