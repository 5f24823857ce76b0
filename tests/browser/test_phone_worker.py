"""In real Chromium: the worker of the phone's page sends, gives way to a newer one, and goes when switched off."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect

from tests import needs
from tests.browser.conftest import PHONE, Service
from tests.browser.phone_scene import answer, code, kept_offline, open_phone, outbox, phone, until
from tests.browser.relay import relay_running

__all__ = ["code", "phone"]
pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]

PHONE_FILES = Path(__file__).parent.parent.parent / "config" / "static" / "phone"
COUNT_WORKERS = "navigator.serviceWorker.getRegistrations().then((all) => all.length)"
# Read past every page of the phone's: none may be open that could send by itself.
STATES_ON_DISK = """() => new Promise((resolve, reject) => {
  const opened = indexedDB.open('three-fifteen-phone');
  opened.onerror = reject;
  opened.onsuccess = () => {
    const all = opened.result.transaction('outbox').objectStore('outbox').getAll();
    all.onsuccess = () => resolve(all.result.map(({ state }) => state));
  };
})"""


def test_the_browser_wakes_the_worker_and_what_waits_goes_though_the_page_is_closed(
    phone: BrowserContext, code: str
) -> None:
    page = open_phone(phone, code)
    kept_offline(page)
    phone.set_offline(True)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    expect(page.get_by_text("It waits for network and goes by itself.")).to_be_visible()
    page.close()
    phone.set_offline(False)
    elsewhere = phone.new_page()
    elsewhere.goto("/sign-in/")
    workers: list[dict[str, Any]] = []
    session = phone.new_cdp_session(elsewhere)
    session.on("ServiceWorker.workerRegistrationUpdated", lambda said: workers.extend(said["registrations"]))
    session.send("ServiceWorker.enable")
    until(lambda: bool(elsewhere.evaluate("true") and workers))
    session.send(
        "ServiceWorker.dispatchSyncEvent",
        {
            "origin": elsewhere.evaluate("location.origin"),
            "registrationId": workers[0]["registrationId"],
            "tag": "outbox",
            "lastChance": False,
        },
    )
    until(lambda: elsewhere.evaluate(STATES_ON_DISK) == ["sent"])


def test_a_newer_version_says_its_size_and_is_used_only_when_told(
    browser: Browser, service: Service, code: str
) -> None:
    with relay_running(service) as relay:
        context = browser.new_context(viewport=PHONE, base_url=relay.url)
        page = open_phone(context, code)
        kept_offline(page)
        relay.instead["/phone/worker.js"] = page.request.get("/phone/worker.js").text() + "\n// newer"
        page.reload()
        expect(page.get_by_text(re.compile(r"A newer version of this page is ready; \d+ kB"))).to_be_visible()
        before = page.evaluate("performance.timeOrigin")
        page.get_by_role("button", name="Use it now").click()
        until(lambda: moved_on(page, before))
        expect(page.locator("#start")).to_be_enabled()
        context.close()


def moved_on(page: Page, before: float) -> bool:
    """True once the page was loaded anew."""
    return bool(asked(page, "performance.timeOrigin") not in (None, before))


def asked(page: Page, script: str) -> Any:
    """The page's answer; None when the question meets it on its way to another load."""
    try:
        return page.evaluate(script)
    except Error:
        return None


def test_switched_off_the_worker_goes_with_its_cache_and_what_waits_stays(
    browser: Browser, service: Service, code: str
) -> None:
    """PHONE_WORKER=off serves the other worker at the same address; so does the relay."""
    with relay_running(service) as relay:
        context = browser.new_context(viewport=PHONE, base_url=relay.url)
        page = open_phone(context, code)
        kept_offline(page)
        page.get_by_role("button", name="Report without the clock").click()
        answer(page, "road", "traffic")
        until(lambda: [row["state"] for row in outbox(page)] == ["waiting"])
        relay.instead["/phone/worker.js"] = (PHONE_FILES / "worker_off.js").read_text()
        page.goto("/phone/")
        loaded = page.evaluate("performance.timeOrigin")
        until(lambda: asked(page, "caches.keys()") == [])
        until(lambda: asked(page, COUNT_WORKERS) == 0)
        assert [row["state"] for row in outbox(page)] == ["waiting"]
        assert page.evaluate("performance.timeOrigin") == loaded, "the page was loaded anew under its reader"
        context.close()
