"""What every page shares, and the pages for what went wrong."""

from __future__ import annotations

from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import override_settings
from django.urls import reverse

from tests.factories import Team
from tests.staff.pages.scenes import signed_in_as


def test_every_page_has_one_heading_a_way_past_the_menu_and_the_caution(team: Team) -> None:
    officer = signed_in_as(team.officer)
    for name in ("readiness", "outings", "regimens", "account", "person-add"):
        html = officer.get(reverse(name)).content.decode()
        assert html.count("<h1") == 1, name
        assert 'href="#content"' in html
        assert 'id="content"' in html
        assert "never wait for it" in html
        assert 'href="tel:000"' in html


def test_the_page_one_is_on_is_marked_in_the_menu(team: Team) -> None:
    menu = signed_in_as(team.officer).get(reverse("outings")).context["nav"]
    assert [item["url"] for item in menu if item["current"] == "page"] == [reverse("outings")]


def test_the_demo_banner_stands_on_a_demo_and_nowhere_else(team: Team) -> None:
    officer = signed_in_as(team.officer)
    for demo in (True, False):
        with override_settings(DEMO=demo):
            html = officer.get(reverse("outings")).content.decode()
        assert ("demo-banner" in html) is demo


def test_reporting_a_bite_is_one_tap_away_even_without_an_account(client: Client, db: None) -> None:
    html = client.get(reverse("sign-in")).content.decode()
    assert html.count(f'href="{reverse("report")}"') == 2


def test_what_is_not_there_is_told_in_words(team: Team) -> None:
    response = signed_in_as(team.officer).get(reverse("person", args=[999_999]))
    assert response.status_code == 404
    assert "There is nothing here for you" in response.content.decode()


def test_the_page_for_our_own_faults_needs_no_database_and_points_to_the_tap() -> None:
    html = render_to_string("500.html")
    assert "wash with soap and running water for 15 minutes" in html
    assert "may not have been kept" in html
