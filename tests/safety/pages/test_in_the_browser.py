"""The wash clock and the pages of a case in a real Chromium: script on and off, narrow and wide, axe-core."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from safety.models import Incident, WashSpell
from safety.services.course.plan import course_plan
from staff.models import User
from tests import needs
from tests.factories import Team
from tests.safety.pages.scenes import make_case, real_now, start_course

pytestmark = [pytest.mark.browser, needs.chromium()]
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture
def browser(monkeypatch: pytest.MonkeyPatch) -> Iterator[Browser]:
    # Playwright keeps an event loop in this thread, which Django takes for async code.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=needs.chromium_path(), args=FLAGS)
        yield chromium
        chromium.close()


def opened(
    browser: Browser, server: Any, user: User | None, *, width: int = 360, **options: Any
) -> BrowserContext:
    context = browser.new_context(viewport={"width": width, "height": 740}, base_url=server.url, **options)
    if user:
        client = Client()
        client.force_login(user)
        value = client.cookies[settings.SESSION_COOKIE_NAME].value
        context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": server.url}])
    return context


def check(page: Page, *, where: str) -> None:
    """axe-core finds nothing, nothing runs over the edge, and what is tapped is 48 px high."""
    found = Axe().run(page).response["violations"]
    # The demo banner above the page is the shell's; its own tests look at it.
    wrong = [
        (violation["id"], [node["html"][:100] for node in violation["nodes"]])
        for violation in found
        if not all("demo-banner" in node["html"] for node in violation["nodes"])
    ]
    assert wrong == [], where
    wider = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wider <= 0, where
    small = page.evaluate(
        """[...document.querySelectorAll('main button, main a.button, main select, main .tabs a, main .tel')]
        .filter(e => e.offsetParent && e.getBoundingClientRect().height < 47.5).map(e => e.outerHTML)"""
    )
    assert small == [], where


def test_washing_starts_with_one_tap_before_any_sign_in(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    page = opened(browser, live_server, None).new_page()
    page.goto("/report/")
    page.get_by_role("button", name="Start the wash clock").click()
    expect(page.locator("[data-elapsed]")).to_have_text(re.compile("0:0[1-9]"))
    assert page.locator("[data-left]").inner_text().startswith("−14:5")
    assert not page.locator("[data-minutes]").is_visible()


def test_a_bite_is_washed_reported_and_stopped_with_the_clock(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    page = opened(browser, live_server, team.member).new_page()
    page.goto("/report/")
    page.get_by_role("button", name="Start the wash clock").click()
    page.get_by_label("bite", exact=True).check()
    page.get_by_role("button", name="Send the report").click()
    page.wait_for_url("**/cases/*/")
    spell = WashSpell.objects.get()
    assert (
        spell.stopped_at is None and abs((spell.incident.reported_at - spell.started_at).total_seconds()) < 30
    )
    assert page.locator("[data-elapsed]").inner_text().startswith("0:")
    page.get_by_label("yes").check()
    page.get_by_role("button", name="Stop the wash clock").click()
    page.get_by_text("The wash clock is stopped.").wait_for()
    spell.refresh_from_db()
    assert spell.stopped_at is not None and spell.soap == "yes"


def test_with_script_off_a_bite_is_still_reported_and_washed_by_the_clock(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    page = opened(browser, live_server, team.member, java_script_enabled=False).new_page()
    page.goto("/report/")
    assert not page.get_by_role("button", name="Start the wash clock").is_visible()
    page.get_by_label("bite", exact=True).check()
    page.get_by_role("button", name="Send the report").click()
    page.wait_for_url("**/cases/*/")
    assert Incident.objects.count() == 1
    page.get_by_role("button", name="Start the wash clock").click()
    page.get_by_text("The clock runs since").wait_for()
    page.get_by_role("button", name="Stop the wash clock").click()
    page.get_by_text("The wash clock is stopped.").wait_for()
    assert WashSpell.objects.get().stopped_at is not None


def test_a_double_tap_on_send_makes_one_report(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    page = opened(browser, live_server, team.member).new_page()
    page.goto("/report/")
    page.get_by_label("bite", exact=True).check()
    page.get_by_role("button", name="Send the report").dblclick()
    page.wait_for_url("**/cases/*/")
    assert Incident.objects.count() == 1


def test_a_double_tap_on_start_and_a_page_opened_anew_keep_the_wash_clock(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    page = opened(browser, live_server, team.member).new_page()
    page.goto("/report/")
    page.get_by_role("button", name="Start the wash clock").dblclick()
    expect(page.get_by_role("button", name="Stop the wash clock")).to_be_visible()
    started = page.locator("[name=wash_started_at]").input_value()
    page.reload()
    assert page.locator("[name=wash_started_at]").input_value() == started
    assert page.locator("[name=wash_stopped_at]").input_value() == ""
    page.get_by_label("bite", exact=True).check()
    page.get_by_role("button", name="Send the report").click()
    assert WashSpell.objects.get().stopped_at is None
    page.goto("/report/")
    expect(page.get_by_role("button", name="Start the wash clock")).to_be_visible()


# What axe finds is in the page, whatever database it came from.
@needs.once()
@pytest.mark.parametrize("width", [320, 1280])
def test_axe_finds_nothing_on_any_page(
    real_transactions: None, team: Team, live_server: Any, browser: Browser, width: int
) -> None:
    incident = make_case(team, days_ago=5, washed_minutes=4)
    course = start_course(team, incident)
    fresh = make_case(team, kind="near-miss", wounds=())
    notice = incident.notices.first()
    assert notice is not None
    case = reverse("case", args=[incident.reference])
    office = [
        "/report/", "/cases/", case, reverse("case", args=[fresh.reference]), "/doses/", "/notices/",
        reverse("notice", args=[notice.pk]), "/mailbox/", "/clinics/", "/clinics/add/",
        reverse("clinic-confirm", args=[team.clinic.pk]), reverse("course-dose", args=[course.pk]),
        reverse("course-end", args=[course.pk]),
        *(f"{case}{step}/" for step in ("washing", "referral", "visit", "course", "close")),
    ]  # fmt: skip
    for user, paths in (
        (team.liaison, office),
        (team.member, ["/report/", case, "/clinics/"]),
        (None, ["/report/"]),
    ):
        context = opened(browser, live_server, user, width=width)
        page = context.new_page()
        for path in paths:
            answer = page.goto(path)
            assert answer is not None and answer.status == 200, path
            check(page, where=f"{path} at {width}, {user}")
        context.close()


def test_dates_that_are_being_computed_appear_by_themselves(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    incident = make_case(team)
    course = start_course(team, incident, planned=False)
    page = opened(browser, live_server, team.liaison).new_page()
    page.goto(reverse("case", args=[incident.reference]))
    expect(page.get_by_text("The dates are being computed")).to_be_visible()
    course_plan(course_id=course.pk, now=real_now())
    expect(page.locator(".course-drawing svg")).to_be_visible(timeout=10_000)
    expect(page.get_by_text("The dates are being computed")).to_have_count(0)


def test_an_error_takes_the_focus_to_the_summary_on_top(
    real_transactions: None, team: Team, live_server: Any, browser: Browser
) -> None:
    page = opened(browser, live_server, team.member).new_page()
    page.goto("/report/")
    page.get_by_role("button", name="Send the report").click()
    page.locator(".error-summary").wait_for()
    assert page.evaluate("document.activeElement.className") == "error-summary"
    check(page, where="a report with an error")
