"""Three people at every page: the officer, the member, and an officer of another site."""

from __future__ import annotations

import pytest
from django.urls import reverse

from staff.models import AuditEntry
from tests.factories import Team, give_doses, make_outing
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as

OFFICE_PAGES = ["readiness", "person-add", "outing-add"]
PERSON_PAGES = ["person-edit", "dose-add", "titre-add", "briefing-add", "hold-add"]


@pytest.mark.parametrize("name", [*OFFICE_PAGES, "me", "outings", "regimens", "account", "home"])
def test_without_signing_in_every_page_asks_to_sign_in(team: Team, client, name: str) -> None:
    response = client.get(reverse(name))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize("name", OFFICE_PAGES)
def test_the_office_pages_open_for_the_officer_and_not_for_a_member(team: Team, name: str) -> None:
    assert signed_in_as(team.officer).get(reverse(name)).status_code == 200
    assert signed_in_as(team.member).get(reverse(name)).status_code == 403


@pytest.mark.parametrize("name", PERSON_PAGES)
def test_a_record_is_changed_by_its_officer_alone(team: Team, name: str) -> None:
    url = reverse(name, args=[team.person.pk])
    assert signed_in_as(team.officer).get(url).status_code == 200
    assert signed_in_as(team.member).get(url).status_code == 403
    assert signed_in_as(team.stranger).get(url).status_code == 404


def test_a_record_is_seen_by_officer_liaison_and_its_owner_and_by_nobody_else(team: Team) -> None:
    url = reverse("person", args=[team.person.pk])
    for user in (team.officer, team.liaison, team.member):
        assert signed_in_as(user).get(url).status_code == 200
    assert signed_in_as(team.stranger).get(url).status_code == 404
    assert signed_in_as(team.lead).get(url).status_code == 403


def test_a_member_finds_no_other_record_under_another_number(team: Team) -> None:
    other = clear_person(team)
    assert signed_in_as(team.member).get(reverse("person", args=[other.pk])).status_code == 404


def test_a_look_at_anothers_record_is_written_down_and_a_look_at_ones_own_is_not(team: Team) -> None:
    url = reverse("person", args=[team.person.pk])
    signed_in_as(team.member).get(url)
    signed_in_as(team.member).get(reverse("me"))
    assert not AuditEntry.objects.filter(action="record.seen").exists()
    signed_in_as(team.officer).get(url)
    assert AuditEntry.objects.get(action="record.seen").actor == team.officer


def test_an_outing_is_hidden_from_another_site_and_from_members_who_are_not_on_it(team: Team) -> None:
    outing, _crew = make_outing(team.site, team.officer, real_now())
    url = reverse("outing", args=[outing.pk])
    for user in (team.officer, team.liaison, team.lead):
        assert signed_in_as(user).get(url).status_code == 200
    for user in (team.stranger, team.member):
        assert signed_in_as(user).get(url).status_code == 404


@pytest.mark.parametrize("name", ["outing-assign", "outing-move", "outing-cancel"])
def test_a_roster_is_changed_by_its_officer_alone(team: Team, name: str) -> None:
    outing, _crew = make_outing(team.site, team.officer, real_now())
    url = reverse(name, args=[outing.pk])
    for user in (team.lead, team.liaison, team.member):
        assert signed_in_as(user).post(url).status_code == 403
    assert signed_in_as(team.stranger).post(url).status_code == 404


def test_doses_and_holds_of_another_site_are_not_found(team: Team) -> None:
    dose = give_doses(team.person, team.officer, real_now(), 10)[0]
    signed_in_as(team.officer).post(
        reverse("hold-add", args=[team.person.pk]), {"starts_on": real_now().date(), "reason": "fever"}
    )
    hold = team.person.holds.get()
    stranger = signed_in_as(team.stranger)
    assert stranger.post(reverse("dose-void", args=[dose.pk]), {"reason": "x"}).status_code == 404
    assert stranger.post(reverse("hold-release", args=[hold.pk]), {"note": "x"}).status_code == 404
    assert signed_in_as(team.liaison).post(reverse("hold-release", args=[hold.pk])).status_code == 403


def test_the_first_page_follows_the_role(team: Team) -> None:
    wanted = {
        team.officer: "readiness",
        team.liaison: "desk",
        team.lead: "outings",
        team.member: "me",
    }
    for user, name in wanted.items():
        response = signed_in_as(user).get(reverse("home"))
        assert response["Location"] == reverse(name)


def test_the_menu_holds_no_page_that_would_refuse_the_reader(team: Team) -> None:
    for user in (team.officer, team.liaison, team.lead, team.member):
        client = signed_in_as(user)
        menu = client.get(reverse("account")).context["nav"]
        assert menu
        for item in menu:
            assert client.get(item["url"], follow=True).status_code == 200, item["url"]


def test_a_form_without_its_token_is_refused_in_words(team: Team) -> None:
    client = signed_in_as(team.officer)
    client.handler.enforce_csrf_checks = True
    response = client.post(reverse("person-add"), {"name": "x"})
    assert response.status_code == 403
    assert "Nothing was kept" in response.content.decode()
