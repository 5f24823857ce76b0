"""A phone in the hand: its browser with a profile of its own, a team card, and the taps of a report."""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect

from tests.browser.conftest import PHONE, QUIET, WIDE, Service, signed_in
from tests.needs import chromium_path

READY = "typeof takeFirstStart === 'function' && document.querySelector('#view').childElementCount > 0"
# One answer a screen; together they answer every question of a bite.
BITE = (
    "bite", "hand", "bled", "dog-roaming-collar", "strange", "gone", "collaring", "hand-near-mouth", "no",
)  # fmt: skip


def team_card(browser: Browser, service: Service, username: str) -> str:
    """The code of a new team card of that account's own, as the page shows it this once."""
    page = signed_in(browser, service, username, WIDE)
    page.goto("/me/")
    page.locator("a[href$='/phone-card/']").first.click()
    page.locator("main form button[type=submit]").click()
    code = page.locator(".card-code").inner_text().replace("-", "").strip()
    page.context.close()
    assert re.fullmatch(r"[2-9A-Z]{34}", code)
    return code


@contextmanager
def kept_phone(browser: Browser, service: Service, profile: Path) -> Iterator[BrowserContext]:
    """Chromium with a profile on the disk, as a phone has one."""
    context = browser.browser_type.launch_persistent_context(
        profile, executable_path=chromium_path(), args=QUIET, viewport=PHONE, base_url=service.url
    )
    yield context
    try:
        context.close()
    except Error as error:
        # The test has killed it, and the news of that may come while it is being closed.
        if "has been closed" not in str(error):
            raise


def kill(profile: Path) -> None:
    """SIGKILL to the browser of that profile, as when a battery dies."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_bytes().decode(errors="replace").split("\0")
        except OSError:
            continue
        if f"--user-data-dir={profile}" in words and not any(word.startswith("--type=") for word in words):
            os.kill(int(folder.name), signal.SIGKILL)
            return
    raise AssertionError(f"no browser runs on {profile}")


def holding(folder: Path, words: tuple[bytes, ...]) -> list[str]:
    """Files below `folder` that hold one of `words`."""
    return [
        str(path.relative_to(folder))
        for path in folder.rglob("*")
        if path.is_file() and any(word in path.read_bytes() for word in words)
    ]


def open_phone(context: BrowserContext, code: str = "") -> Page:
    """The phone's page in a new tab, ready for a tap; with `code` opened as the card's link."""
    page = context.new_page()
    page.goto(f"/phone/#{code}" if code else "/phone/")
    # Not wait_for_function: the page's own policy forbids to evaluate text in it.
    until(lambda: bool(page.evaluate(READY)))
    return page


def kept_offline(page: Page) -> None:
    """Wait until the worker has the page; from then on it opens without network."""
    until(lambda: bool(page.evaluate("navigator.serviceWorker.controller !== null")))


def answer(page: Page, *values: str) -> int:
    """One tap for each answer, the next question awaited; returns the taps."""
    for value in values:
        asked = page.locator("#question").inner_text()
        page.locator(f".question [data-value='{value}']").click()
        expect(page.locator("#question")).not_to_have_text(asked)
    return len(values)


def outbox(page: Page) -> list[dict[str, str]]:
    """The rows of the phone's outbox, read past the page."""
    return page.evaluate("async () => (await openPhoneStore()).all('outbox')")  # type: ignore[no-any-return]


def until(true: Callable[[], bool], seconds: float = 60) -> None:
    """Wait for something only the test can see."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"not within {seconds} s"
        time.sleep(0.1)


def arrived(page: Page) -> str:
    """Wait for the report's reference on the phone."""
    said = page.get_by_text(re.compile(r"the reference is [2-9A-Z]{6}")).first
    expect(said).to_be_visible(timeout=60_000)
    found = re.search(r"reference is ([2-9A-Z]{6})", said.inner_text())
    assert found
    return found[1]


@pytest.fixture(scope="session")
def officer(browser: Browser, service: Service) -> Iterator[Page]:
    page = signed_in(browser, service, "officer", WIDE)
    yield page
    page.context.close()


def case_text(officer: Page, reference: str) -> str:
    officer.goto(f"/cases/{reference}/")
    return officer.locator("main").inner_text()


@pytest.fixture(scope="module")
def code(browser: Browser, service: Service) -> str:
    return team_card(browser, service, "member")


@pytest.fixture
def phone(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    yield context
    context.close()
