"""The administrator's desk refuses what the other doors refuse, and shows no health record."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from django.contrib import admin
from django.forms.models import model_to_dict
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from staff.admin import RulesForm
from staff.models import Assignment, AuditEntry, Dose, Hold, Person, SiteRules, Titre, User
from staff.services.record.recompute import recompute_catch_up
from tests.factories import Team, give_doses, make_outing, make_team

pytestmark = pytest.mark.django_db


@pytest.fixture
def today_team() -> Team:
    return make_team(timezone.now())


@pytest.fixture
def desk(today_team: Team) -> Iterator[Client]:
    admin_user = User.objects.create(username="admin", is_staff=True, is_superuser=True)
    client = Client()
    client.force_login(admin_user)
    yield client


def form_of(team: Team, days_ahead: int = 3) -> dict[str, object]:
    outing, crew = make_outing(team.site, team.officer, timezone.now(), days_ahead)
    return {"outing": outing.pk, "crew": crew.pk, "person": team.person.pk, "role": "catcher"}


def test_an_uncleared_person_is_refused_without_the_reason(desk: Client, today_team: Team) -> None:
    give_doses(today_team.person, today_team.officer, timezone.now(), 30, 23)
    answer = desk.post(reverse("admin:staff_assignment_add"), form_of(today_team)).content.decode()
    assert "ask the officer" in answer and "dose" not in answer
    assert not Assignment.objects.exists()


def test_somebody_found_uncleared_at_the_last_moment_is_refused_without_the_reason(
    desk: Client, today_team: Team, monkeypatch: pytest.MonkeyPatch
) -> None:
    give_doses(today_team.person, today_team.officer, timezone.now(), 30, 23)
    monkeypatch.setattr("staff.admin.clearance_on", lambda *_: "clear a moment ago")
    answer = desk.post(reverse("admin:staff_assignment_add"), form_of(today_team)).content.decode()
    assert "ask the officer" in answer and "dose" not in answer
    assert not Assignment.objects.exists()


def test_every_rule_of_a_site_stands_on_the_form() -> None:
    own = {field.name for field in SiteRules._meta.get_fields() if field.concrete} - {"id", "site"}
    assert set(RulesForm._meta.fields or ()) == own


def test_a_cleared_person_is_assigned_through_the_service(desk: Client, today_team: Team) -> None:
    give_doses(today_team.person, today_team.officer, timezone.now(), 30, 23, 2)
    answer = desk.post(reverse("admin:staff_assignment_add"), form_of(today_team))
    assert answer.status_code == 302
    assert Assignment.objects.get().person == today_team.person
    assert AuditEntry.objects.filter(action="roster.assigned").exists()


def test_an_outing_that_is_over_is_refused_in_words(desk: Client, today_team: Team) -> None:
    give_doses(today_team.person, today_team.officer, timezone.now(), 30, 23, 9)
    answer = desk.post(reverse("admin:staff_assignment_add"), form_of(today_team, days_ahead=-2), follow=True)
    assert "its roster is history" in answer.content.decode()
    assert not Assignment.objects.exists()


def test_changing_a_sites_rules_needs_a_reason_and_recomputes_clearance(
    desk: Client, today_team: Team
) -> None:
    give_doses(today_team.person, today_team.officer, timezone.now(), 30, 23, 0)
    rules = SiteRules.objects.get(site=today_team.site)
    url = reverse("admin:staff_siterules_change", args=[rules.pk])
    standing = {
        name: value
        for name, value in model_to_dict(rules).items()
        if value is not None and value is not False
    }
    data = standing | {"settling_days": 5}
    assert desk.post(url, data).status_code == 200
    assert desk.post(url, data | {"reason": "letter of the authority"}).status_code == 302
    recompute_catch_up(now=timezone.now())  # the background's part
    today = today_team.site.local_date(timezone.now())
    assert today_team.person.clearances.get().starts_on == today + timedelta(days=5)


def test_no_health_record_is_registered() -> None:
    registered = set(admin.site._registry)
    assert not registered & {Dose, Titre, Hold, Person}


def test_the_desk_is_closed_to_an_officer(today_team: Team, now: datetime) -> None:
    client = Client()
    client.force_login(today_team.officer)
    assert client.get(reverse("admin:index")).status_code == 302
