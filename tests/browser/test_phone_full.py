"""A phone whose storage is full: the clock runs, the report goes out from memory, and the page says so."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests import needs
from tests.browser.conftest import PHONE, Service
from tests.browser.phone_scene import (
    BITE,
    answer,
    arrived,
    case_text,
    officer,
    open_phone,
    outbox,
    team_card,
    until,
)

__all__ = ["officer"]
pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]

FULL = "This phone's storage is full"
# What a browser does when the disk is full: the write's transaction ends in QuotaExceededError.
REFUSE = """() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...given) {
    const request = put.apply(this, given);
    this.transaction.abort();
    return request;
  };
}"""
THROW = """() => {
  IDBObjectStore.prototype.put = function () {
    throw new DOMException('The disk is full.', 'QuotaExceededError');
  };
}"""


@pytest.fixture(scope="module")
def code(browser: Browser, service: Service) -> str:
    return team_card(browser, service, "member")


@pytest.fixture
def phone(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport=PHONE, base_url=service.url, service_workers="block")
    yield context
    context.close()


def starts(page: Page) -> None:
    page.locator("#start").click()
    expect(page.locator("[data-washed]")).to_have_text("0:01")
    expect(page.get_by_text(FULL)).to_be_visible()


@pytest.mark.parametrize("refuse", [REFUSE, THROW], ids=["aborted", "thrown"])
def test_the_clock_runs_and_the_report_goes_out_though_nothing_can_be_written(
    phone: BrowserContext, code: str, officer: Page, refuse: str
) -> None:
    page = open_phone(phone, code)
    until(lambda: page.get_by_text("Reports go out under card").is_visible())
    page.evaluate(refuse)
    starts(page)
    page.get_by_role("button", name="soap and running water").click()
    answer(page, *BITE)
    page.locator("textarea").fill("No room on the phone.")
    page.locator("[data-send]").click()
    text = case_text(officer, arrived(page))
    assert "No room on the phone." in text and "Bitten; hand or fingers" in text
    expect(page.get_by_text(FULL)).to_be_visible()


def test_a_phone_that_has_room_again_keeps_what_is_written_then(phone: BrowserContext, code: str) -> None:
    page = open_phone(phone, code)
    page.evaluate("() => { self.put = IDBObjectStore.prototype.put; }")
    page.evaluate(THROW)
    starts(page)
    page.evaluate("() => { IDBObjectStore.prototype.put = self.put; }")
    page.get_by_role("button", name="soap and running water").click()
    until(lambda: "wash" in {row["kind"] for row in outbox(page)})
    page.reload()
    expect(page.locator("[data-washed]")).to_be_visible()
    expect(page.get_by_text(FULL)).to_have_count(0)


def test_from_a_full_phone_that_never_had_room_the_clock_runs_too(phone: BrowserContext) -> None:
    page = phone.new_page()
    page.add_init_script(f"({THROW})()")
    page.goto("/phone/")
    starts(page)
    page.reload()
    expect(page.locator("#start")).to_be_visible()
