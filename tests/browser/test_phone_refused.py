"""In real Chromium: what is refused, or answered by somebody else, is shown and lost nowhere."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from tests import needs
from tests.browser.conftest import PHONE, Service
from tests.browser.phone_scene import answer, arrived, case_text, code, officer, outbox, until

__all__ = ["code", "officer"]
pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]

Answered = Callable[[Route], None]
# None of them came from the service: a sign-in page of a network, a proxy, an address that is no longer ours.
STRANGERS: list[Answered] = [
    lambda route: route.fulfill(status=200, body="<h1>Welcome to our network</h1>"),
    lambda route: route.fulfill(status=200, json={"welcome": True}),
    lambda route: route.fulfill(status=403, body="Blocked."),
    lambda route: route.fulfill(status=407, json={"code": 407}),
]


def meeting(browser: Browser, service: Service, answers: list[Answered]) -> Page:
    """A page whose messages meet these answers one after the other, and then the service; the test sets its clock."""
    waiting = list(answers)

    def meet(route: Route) -> None:
        (waiting.pop(0) if waiting else Route.continue_)(route)

    # With a worker on the page the requests would go past the test's route.
    page = browser.new_context(viewport=PHONE, base_url=service.url, service_workers="block").new_page()
    page.clock.install()
    page.route("**/api/v1/phone/messages/", meet)
    return page


def test_a_refusal_and_a_busy_service_lose_nothing(
    browser: Browser, service: Service, code: str, officer: Page
) -> None:
    answers = [
        lambda route: route.fulfill(status=503, json={"code": "down"}),
        lambda route: route.fulfill(status=409, json={"code": "changes-crossed", "message": "Try again."}),
        lambda route: route.fulfill(status=422, json={"code": "strange", "message": "Strange key."}),
    ]
    page = meeting(browser, service, answers)
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    expect(page.get_by_text("busy, out of order or not reached (code 503)")).to_be_visible()
    page.clock.fast_forward("00:31")
    # Two changes that crossed are no refusal: the message waits and goes again by itself.
    expect(page.get_by_text("busy, out of order or not reached (code 409)")).to_be_visible()
    page.clock.fast_forward("00:31")
    page.get_by_role("button", name="To the start page").click()
    expect(page.get_by_text("The service didn't take it (code 422). Strange key.")).to_be_visible()
    page.get_by_role("button", name="Try again").click()
    assert "Road incident" in case_text(officer, arrived(page))
    page.context.close()


def test_what_answers_in_the_services_place_refuses_nothing(
    browser: Browser, service: Service, code: str, officer: Page
) -> None:
    page = meeting(browser, service, STRANGERS)
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    for status in (200, 200, 403, 407):
        until(lambda: [row.get("said") for row in outbox(page)] == [status])  # noqa: B023
        assert [row["state"] for row in outbox(page)] == ["waiting"]
        page.clock.fast_forward("00:31")
    assert "Road incident" in case_text(officer, arrived(page))
    page.context.close()


def test_a_refused_alarm_or_draft_or_count_is_shown_by_name_and_can_be_tried_again(
    browser: Browser, service: Service, code: str
) -> None:
    refusal: Answered = lambda route: route.fulfill(  # noqa: E731
        status=422, json={"code": "strange", "message": "Strange key."}
    )
    page = meeting(browser, service, [refusal] * 4)
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="My crew").click()
    page.locator("[data-more=injecting]").click()
    page.get_by_role("button", name="To the start page").click()
    page.locator("#start").click()
    page.get_by_role("button", name="soap and running water").click()
    answer(page, "bite")
    until(lambda: len(outbox(page)) == 4)
    page.clock.fast_forward("31:00")
    until(lambda: [row["state"] for row in outbox(page)] == ["refused"] * 4)
    page.goto("/phone/")
    expect(page.locator("[data-washed]")).to_be_visible()
    page.go_back()
    rows = page.locator("ul.outbox li")
    for words in (
        "word that washing began",
        "times of washing",
        "a report that isn't finished",
        "dogs handled",
    ):
        row = rows.filter(has_text=f"{words}: The service didn't take it (code 422).")
        row.get_by_role("button", name="Try again").click()
        expect(row).to_have_count(0)
    until(lambda: [row["state"] for row in outbox(page)] == ["sent"] * 4)
    page.context.close()
