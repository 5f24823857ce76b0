"""What the phone's own scripts say before they seal it is what the examples say, which the service's tests take."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests import needs
from tests.browser.conftest import PHONE, Service, signed_in
from tests.browser.phone_scene import BITE, answer, arrived, open_phone, outbox, team_card, until

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]
EXAMPLES = json.loads((Path(__file__).parents[1] / "phone_messages.json").read_text())["messages"]
# Every message is written as text right before it is sealed; nothing else the page writes carries a version.
LISTEN = """
  const write = JSON.stringify;
  self.said = [];
  JSON.stringify = (value, ...more) => {
    if (value?.v === 1) self.said.push(write(value));
    return write(value, ...more);
  };
"""
SHAPES = {
    r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z": "an instant",
    r"\d{4}-\d\d-\d\d": "a date",
    r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}": "a key",
    r"[2-9A-Z]{34}|LINK": "a link",
}


def shape(value: Any) -> Any:
    """The message with what differs each time replaced by what it is."""
    if isinstance(value, dict):
        return {name: shape(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [shape(inner) for inner in value]
    if isinstance(value, str):
        return next((name for form, name in SHAPES.items() if re.fullmatch(form, value)), value)
    return value


@pytest.fixture(scope="module")
def code(browser: Browser, service: Service) -> str:
    return team_card(browser, service, "member")


@pytest.fixture
def phone(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    context.add_init_script(LISTEN)
    yield context
    context.close()


def said(page: Page) -> list[Any]:
    return [shape(json.loads(text)) for text in page.evaluate("self.said")]


def example(taps: str) -> Any:
    return shape(next(one["said"] for one in EXAMPLES if one["taps"] == taps))


def test_a_phone_says_of_a_bite_what_the_examples_say(phone: BrowserContext, code: str) -> None:
    page = open_phone(phone, code)
    page.locator("#start").click()
    until(lambda: example("Start") in said(page))
    page.get_by_role("button", name="soap and running water").click()
    until(lambda: example("Start, soap and running water") in said(page))
    answer(page, *BITE)
    page.locator("textarea").fill("It turned its head.")
    page.locator("[data-send]").click()
    arrived(page)
    assert example("the answers of a bite, Send") in said(page)


def test_a_phone_says_of_the_crew_what_the_examples_say(phone: BrowserContext, code: str) -> None:
    page = open_phone(phone, code)
    page.get_by_role("button", name="My crew").click()
    page.locator("[data-near-miss]").click()
    page.get_by_role("group", name="At which task?").get_by_role("button", name="netting").click()
    until(lambda: example("My crew, Near miss, netting") in said(page))
    page.locator("[data-more=injecting]").click()
    until(lambda: example("My crew, one more: injecting") in said(page))


def counted(service: Service, task: str) -> int:
    """The row itself, past every page."""
    asked = f"SELECT count FROM safety_handledtally WHERE task = '{task}'"
    if service.database_url:
        with psycopg.connect(service.database_url) as database:
            found = database.execute(asked).fetchone()
    else:
        with closing(sqlite3.connect(service.data_dir / "three-fifteen.sqlite3")) as database:
            found = database.execute(asked).fetchone()
    assert found
    return int(found[0])


def test_dogs_counted_on_the_phone_reach_their_row(browser: Browser, service: Service) -> None:
    """From the tap to the row: the officer's list of what waits stays empty, and the count is in the table."""
    code = team_card(browser, service, "lead")
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    page = context.new_page()
    page.clock.install()
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="My crew").click()
    for _dog in range(2):
        page.locator("[data-more=holding]").click()
    until(lambda: [row["kind"] for row in outbox(page)] == ["handled"])
    page.clock.fast_forward("02:00")
    until(lambda: [row["state"] for row in outbox(page)] == ["sent"])
    context.close()
    officer = signed_in(browser, service, "officer", PHONE)
    officer.goto("/reports-waiting/")
    expect(officer.get_by_text("None: every report from a phone is in a case.")).to_be_visible()
    officer.context.close()
    assert counted(service, "holding") == 2
